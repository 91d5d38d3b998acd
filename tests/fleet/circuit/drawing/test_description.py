"""The words say every number that the picture shows, and why something is shut."""

import pytest

from fleet.circuit.drawing import draw_circuit, in_words, title_and_description
from fleet.circuit.drawing.solved_numbers import pressure_text, share_text
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault
from fleet.drawing import SEMIBOLD
from tests.drawing_reader import texts
from tests.fleet.circuit.drawing.geometry import scene
from tests.fleet.circuit.drawing.solved import circuit, solved, state

CASES = [("castrine-2", "ordinary"), ("ostler-octavo", "flush-valve-pressed"), ("aldane-40", "oxygen-pipeline-off")]


def line_of(name, solution, code):
    (line,) = (line for line in in_words(circuit(name), solution) if line.code == code)
    return line


@pytest.mark.parametrize(("name", "code"), CASES)
def test_every_component_has_one_line_and_every_number_of_the_picture_stands_in_it(name, code):
    solution = solved(name, code)
    lines = {line.code: line for line in in_words(circuit(name), solution)}
    assert lines.keys() == {component.code for component in circuit(name).components}
    for component, caption in scene(circuit(name), solution, width=2400).captions.items():
        line = lines[component]
        said = f"{line.pressure}; {line.flow}; {line.content}; {line.note}"
        shown = [one.words for one in caption.lines if one.font == SEMIBOLD]
        for words in shown:
            number = words.removeprefix("vents ").removeprefix("takes ")
            number = number.split(" ", 1)[1] if number[0].isalpha() and number[-1] == "%" else number
            assert number in said or "100 %" in words, (component, words, said)


def test_the_lines_follow_the_flow_from_wall_to_patient_and_back():
    order = [line.code for line in in_words(circuit("castrine-1"), solved("castrine-1"))]
    way = ["oxygen-inlet", "main-switch", "oxygen-control", "oxygen-flowmeter", "flow-bank", "vaporizer-1", "outlet"]
    way += ["inspiratory-valve", "patient", "expiratory-hose", "expiratory-valve", "selector", "scavenging"]
    assert [order.index(code) for code in way] == sorted(order.index(code) for code in way)


def test_a_breathing_system_that_nothing_comes_to_is_told_as_not_renewed():
    """With no fresh gas the faintest leaks decide the computed mixture: it is no figure to show."""
    solution = solved("aldane-40", "oxygen-pipeline-off")
    assert line_of("aldane-40", solution, "patient").content == "not renewed: the previous gas"
    assert "not renewed" in title_and_description(circuit("aldane-40"), solution)[1]
    assert "not renewed" in texts(draw_circuit(circuit("aldane-40"), solution))
    assert "oxygen" in line_of("aldane-40", solved("aldane-40"), "patient").content


def test_a_valve_that_oxygen_holds_open_says_what_it_lacks():
    """Set at 9 psi (62 kPa) in the circuit's file; with pipeline off and cylinders shut oxygen is at room pressure."""
    line = line_of("aldane-40", solved("aldane-40", "oxygen-pipeline-off"), "nitrous-oxide-cut-off-valve")
    assert line.note == "shut: oxygen 0 kPa, opens above 62 kPa" and line.is_urgent
    picture = " ".join(texts(draw_circuit(circuit("aldane-40"), solved("aldane-40", "oxygen-pipeline-off"))))
    assert "opens above" in picture and "hose disconnected" in picture


def test_supply_pressures_come_in_psi_on_request_and_airway_pressures_stay_in_cmh2o():
    lines = {line.code: line for line in in_words(circuit("castrine-1"), solved("castrine-1"), units="psi")}
    assert lines["oxygen-inlet"].pressure == "50 psi"  # what usual_states.py sets; US nominal pipeline pressure
    assert lines["patient"].pressure.endswith(" cmH2O")


def test_a_failed_component_says_how_it_failed():
    fault = Fault("expiratory-hose", "leaking")
    solution = solve(circuit("castrine-1"), state("castrine-1", "ordinary"), [fault])
    line = line_of("castrine-1", solution, "expiratory-hose")
    assert line.note.startswith("failed: it is split or loose") and line.is_urgent
    assert "Expiratory hose leaking" in title_and_description(circuit("castrine-1"), solution)[0]


def test_a_crossed_pipeline_is_named_where_it_comes_in():
    crossed = state("castrine-2", "ordinary").with_settings("oxygen-inlet", supply_gas="nitrous-oxide")
    solution = solve(circuit("castrine-2"), crossed)
    assert line_of("castrine-2", solution, "oxygen-inlet").note == "delivers nitrous oxide"
    assert line_of("castrine-2", solution, "oxygen-inlet-filter").note == "holds nitrous oxide"
    title, description = title_and_description(circuit("castrine-2"), solution)
    assert "Oxygen pipeline inlet: delivers nitrous oxide." in description
    assert "Oxygen analyser alarms" in description and "holds" not in description
    drawn = texts(draw_circuit(circuit("castrine-2"), solution))
    assert "delivers nitrous" in drawn and not any(words.startswith("holds") for words in drawn)


def test_a_regulator_set_below_the_pipeline_rests_behind_it():
    """45 psi against 50 psi: the wall is used first. Source: common practice, no source."""
    solution = solve(circuit("castrine-2"), state("castrine-2", "ordinary").with_settings("oxygen-yoke-1", is_open=1.0))
    note = line_of("castrine-2", solution, "oxygen-regulator").note
    assert note.startswith("shut: ") and note.endswith("downstream, set to 310 kPa")  # 45 psi = 310.3 kPa


def test_a_circuit_without_solution_is_named_component_by_component():
    lines = in_words(circuit("norrfell-3"))
    assert len(lines) == len(circuit("norrfell-3").components)
    assert all(line.component and line.kind and line.lane and not line.pressure for line in lines)
    assert title_and_description(circuit("norrfell-3"))[0] == "Norrfell Three: gas circuit"


@pytest.mark.parametrize(
    ("pa", "unit", "text"),
    [
        (344_738.0, "psi", "50 psi"),  # 1 psi = 6894.757 Pa, NIST SP 811
        (344_738.0, "kPa", "345 kPa"),
        (98.0665, "cmH2O", "1.0 cmH2O"),  # NIST SP 811, conventional centimetre of water
        (-49.03, "cmH2O", "\N{MINUS SIGN}0.5 cmH2O"),
        (1e-9, "kPa", "0 kPa"),
        (-0.4, "kPa", "0 kPa"),
        (13_789_515.0, "kPa", "13790 kPa"),
    ],
)
def test_a_pressure_is_rounded_for_the_eye(pa, unit, text):
    assert pressure_text(pa, unit) == text


@pytest.mark.parametrize(("share", "text"), [(1.0, "100 %"), (0.3333, "33 %"), (0.0995, "10 %"), (0.016, "1.6 %")])
def test_a_share_is_rounded_for_the_eye(share, text):
    assert share_text(share) == text


def test_a_supply_lane_without_pressure_in_which_nothing_moves_is_told_as_holding_nothing():
    """What the floor leaks left there is no finding; a lane under pressure and a flowing one keep theirs."""
    off = solved("aldane-40", "oxygen-pipeline-off")
    assert line_of("aldane-40", off, "oxygen-inlet").content == ""
    assert line_of("aldane-40", off, "nitrous-oxide-inlet").content == "nitrous oxide"
    assert line_of("aldane-40", solved("aldane-40"), "oxygen-flowmeter").content == "oxygen"


def test_an_analyser_has_no_figure_for_a_breathing_system_that_nothing_comes_to():
    told = {one.feature for one in solved("aldane-40", "oxygen-pipeline-off").told}
    assert "o2-analyser" not in told and "o2-supply-alarm" in told
