"""Every choice of the kit gives a circuit that is read back as itself, passes the checks and can be solved."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.catalogue import FEATURES
from fleet.circuit.derived_features import derived_features
from fleet.circuit.files import read_circuit, write_circuit
from fleet.circuit.kit import CHOICES, MACHINE_KINDS, build_circuit, circuit_file, start_of
from fleet.circuit.network import check_circuit
from fleet.circuit.solver import solve
from fleet.circuit.usual_states import ordinary_state

ANSWERS = st.fixed_dictionaries({code: st.sampled_from(list(choice.options)) for code, choice in CHOICES.items()})


def is_sound(circuit):
    text = write_circuit(circuit)
    again = read_circuit(text)
    assert (again.components, again.connections) == (circuit.components, circuit.connections)
    assert write_circuit(again) == text
    assert check_circuit(circuit) == ()
    solution = solve(circuit, ordinary_state(circuit))
    return solution


@given(chosen=ANSWERS)
@settings(max_examples=150, deadline=None)
def test_every_combination_of_blocks_is_a_circuit_that_works(chosen):
    is_sound(build_circuit(chosen, title="Kit"))


@given(kind=st.sampled_from(list(MACHINE_KINDS.values())), chosen=ANSWERS, kept=st.sets(st.sampled_from(list(CHOICES))))
@settings(max_examples=40, deadline=None)
def test_every_kind_may_differ_in_anything(kind, chosen, kept):
    start = start_of(kind, {code: answer for code, answer in chosen.items() if code in kept}, title="Kit")
    is_sound(read_circuit(start.circuit))
    assert "oxygen" in start.gases


@pytest.mark.parametrize("code", MACHINE_KINDS)
def test_each_kind_is_sound_as_it_is_and_names_only_known_features(code):
    start = start_of(MACHINE_KINDS[code], title="Kit")
    is_sound(read_circuit(start.circuit))
    assert start.features.keys() <= FEATURES.keys()
    kind = MACHINE_KINDS[code]
    assert set(kind.fitted) | set(kind.not_fitted) <= FEATURES.keys()


def test_a_plain_machine_lacks_what_a_later_kind_has():
    plain, later = (start_of(MACHINE_KINDS[code], title="Kit").features for code in ("three-gas", "with-ventilator"))
    for feature in ("ratio-protection", "o2-supply-alarm", "vaporizer-exclusion", "outlet-relief"):
        assert (plain.get(feature, "not fitted"), later[feature]) == ("not fitted", "fitted"), feature
    assert (plain["scavenging-breathing-size"], later["scavenging-breathing-size"]) == ("fitted", "not fitted")


@pytest.mark.parametrize(
    ("chosen", "feature"),
    [
        ({"cut-off": "none"}, "o2-failure-protection"),
        ({"ratio": "none"}, "ratio-protection"),
        ({"exclusion": "no"}, "vaporizer-exclusion"),
        ({"oxygen-alarm": "no"}, "o2-supply-alarm"),
        ({"scavenging": "22"}, "scavenging-30mm"),
    ],
)
def test_what_is_not_ticked_is_not_shown_as_fitted(chosen, feature):
    kind = MACHINE_KINDS["with-ratio-protection"]
    assert start_of(kind, title="Kit").features[feature] == "fitted"
    assert start_of(kind, chosen, title="Kit").features[feature] == "not fitted"


def test_a_ratio_link_without_nitrous_oxide_adds_nothing():
    circuit = build_circuit({"nitrous-oxide": "none", "ratio": "link"}, title="Kit")
    assert circuit.of_kind("ratio-link", "ratio-protection") == ()


def test_missing_equipment_follows_from_the_choices():
    start = start_of(MACHINE_KINDS["three-gas"], {"scavenging": "none", "air": "none"}, title="Kit")
    assert set(start.lacks) == {"ventilator", "scavenging", "mains-power"}
    assert start.gases == ("oxygen", "nitrous-oxide") and start.vaporizer_positions == 1


def test_an_answer_that_is_not_offered_is_refused():
    with pytest.raises(ValueError, match="'steam' is not accepted. Accepted: both, pipeline, cylinder"):
        build_circuit({"oxygen": "steam"}, title="Kit")
    with pytest.raises(ValueError, match="boiler: not a choice of the kit"):
        circuit_file({"boiler": "yes"}, title="Kit")


def test_a_circuit_of_the_kit_shows_its_cut_off_by_solving_it():
    derived = derived_features(build_circuit({"cut-off": "proportional"}, title="Kit"))
    assert derived["o2-failure-protection"].state == "fitted"
