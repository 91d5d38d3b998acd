"""What flows along the pipes of the picture is what the solution says passes the components at their ends."""

import pytest
from pytest import approx

from fleet.circuit.causes import causes_of
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.solver import solve
from fleet.circuit.structure import Port
from tests.fleet.circuit.drawing.geometry import scene
from tests.fleet.circuit.drawing.solved import circuit, solved, state

L_MIN = 1e-3 / 60


def stretch_at(found, port):
    """Return the stretch of pipe that meets a port of the circuit itself, and where they meet."""
    (stream,) = (s for s in found.streams if port in s.wire.ends and not s.wire.route.net.is_made)
    end = stream.wire.ends[port]
    (stretch,) = (s for s in stream.stretches if end in (s.start, s.end))
    return stretch, end


@pytest.mark.parametrize("name", ["castrine-2", "ostler-octavo", "norrfell-3"])
def test_at_every_meeting_point_as_much_leaves_as_comes(name):
    solution = solved(name)
    for stream in scene(circuit(name), solution).streams:
        balance = {}
        for stretch in stream.stretches:
            balance[stretch.start] = balance.get(stretch.start, 0.0) - stretch.flow_m3_s
            balance[stretch.end] = balance.get(stretch.end, 0.0) + stretch.flow_m3_s
        inner = [value for point, value in balance.items() if point not in stream.wire.ends.values()]
        assert inner == approx([0.0] * len(inner), abs=5e-3 * L_MIN)  # stretches below 1 mL/min count as still


@pytest.mark.parametrize(
    ("component", "gas"), [("oxygen-flowmeter", "oxygen"), ("nitrous-oxide-flowmeter", "nitrous-oxide")]
)
def test_the_pipe_behind_a_flowmeter_carries_its_flow_and_its_gas(component, gas):
    solution = solved("castrine-2")
    stretch, end = stretch_at(scene(circuit("castrine-2"), solution), Port(component, "out"))
    assert stretch.start == end and stretch.gas == gas
    assert stretch.flow_m3_s == approx(solution.flow(component).value_m3_s, rel=1e-6)


def test_where_the_gases_have_met_the_pipe_shows_a_mixture():
    stretch, _ = stretch_at(scene(circuit("castrine-2"), solved("castrine-2")), Port("outlet", "out"))
    assert stretch.gas == MIXED


def test_a_flush_that_is_held_fills_its_pipe_and_one_let_go_leaves_it_still():
    for code, flows in (("flush-valve-pressed", True), ("ordinary", False)):
        solution = solved("ostler-octavo", code)
        stretch, _ = stretch_at(scene(circuit("ostler-octavo"), solution), Port("flush-valve", "out"))
        assert stretch.flows is flows and stretch.gas == "oxygen"


def test_a_hose_that_is_off_has_a_gap_and_gas_flows_up_to_it_only():
    solution = solved("castrine-1", "outlet-hose-off")
    found = scene(circuit("castrine-1"), solution)
    (stream,) = (s for s in found.streams if s.gaps)
    near, _ = stretch_at(found, Port("outlet", "out"))
    far, _ = stretch_at(found, Port("fresh-gas-hose", "in"))
    assert near.flow_m3_s == approx(solution.flow("outlet").value_m3_s, rel=1e-6)
    assert not far.flows and {near.end, far.start, far.end} >= set(stream.gaps[0])


def test_a_hose_on_the_wrong_place_is_drawn_and_carries_what_passes_it():
    swapped = next(cause for cause in causes_of(circuit("norrfell-3")) if cause.state.made)
    solution = solve(circuit("norrfell-3"), swapped.state, swapped.faults)
    made = [s for s in scene(circuit("norrfell-3"), solution).streams if s.wire.route.net.is_made]
    assert {s.wire.route.net.connections[0] for s in made} == set(swapped.state.made)
    flows = {s.wire.route.net.connections[0].source.component: max(x.flow_m3_s for x in s.stretches) for s in made}
    assert flows["expiratory-hose"] == approx(solution.flow("expiratory-hose").value_m3_s, rel=1e-6)


def test_without_a_solution_each_pipe_shows_the_gas_of_its_lane_towards_where_it_is_used():
    found = scene(circuit("castrine-2"))
    stretch, end = stretch_at(found, Port("oxygen-flowmeter", "out"))
    assert stretch.gas == "oxygen" and stretch.start == end and stretch.flow_m3_s is None
    assert stretch_at(found, Port("vaporizer-rail", "in"))[0].gas == MIXED
    assert stretch_at(found, Port("air-cut-off-valve", "oxygen"))[0].is_pilot


def test_a_crossed_pipeline_fills_the_pipes_with_the_pattern_of_what_it_gives():
    crossed = state("castrine-2", "ordinary").with_settings("oxygen-inlet", supply_gas="nitrous-oxide")
    found = scene(circuit("castrine-2"), solve(circuit("castrine-2"), crossed))
    flowing, still = Port("oxygen-flowmeter", "out"), Port("oxygen-pipeline-gauge", "in")
    assert stretch_at(found, flowing)[0].flows and not stretch_at(found, still)[0].flows
    assert [stretch_at(found, port)[0].gas for port in (flowing, still)] == ["nitrous-oxide"] * 2
