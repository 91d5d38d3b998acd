"""Nothing in the picture of a circuit lies on anything else, whatever the circuit."""

import random
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.circuit.drawing import draw_circuit
from fleet.circuit.files import read_circuit
from fleet.drawing import to_svg
from tests.drawing_reader import stays_inside
from tests.fleet.circuit.drawing.geometry import (
    overlapping_boxes,
    pipes_on_pipes,
    pipes_through_boxes,
    reached_from,
    scene,
)
from tests.fleet.circuit.drawing.random_circuits import circuits

FILES = sorted((Path(__file__).resolve().parents[4] / "config" / "demo" / "circuits").glob("*.toml"))
CIRCUITS = [read_circuit(path.read_text(encoding="utf-8")) for path in FILES]
WIDTHS = (1100, 720, 480)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("circuit", CIRCUITS, ids=str)
def test_no_component_name_or_pipe_of_a_demonstration_circuit_lies_on_another(circuit, width):
    found = scene(circuit, width=width)
    assert overlapping_boxes(found) == []
    assert pipes_through_boxes(found) == []
    assert pipes_on_pipes(found) == []
    assert stays_inside(draw_circuit(circuit, width=width))


@settings(max_examples=60, deadline=None)
@given(circuits(), st.sampled_from(WIDTHS))
def test_no_component_name_or_pipe_of_any_circuit_lies_on_another(circuit, width):
    found = scene(circuit, width=width)
    assert overlapping_boxes(found) == []
    assert pipes_through_boxes(found) == []
    assert pipes_on_pipes(found) == []


@settings(max_examples=40, deadline=None)
@given(circuits())
def test_every_connection_is_a_way_along_the_pipes_and_every_net_a_tree(circuit):
    ends = {connection: None for connection in circuit.connections}
    for wire in scene(circuit).wires:
        points = {point for edge in wire.edges for point in edge} | set(wire.ends.values())
        assert len(wire.edges) == len(points) - 1
        for connection in wire.route.net.connections:
            ends[connection] = wire.ends[connection.target] in reached_from(wire, wire.ends[connection.source])
    assert all(ends.values())


@settings(max_examples=25, deadline=None)
@given(circuits(), st.randoms(use_true_random=False))
def test_the_picture_is_the_same_for_any_order_of_components_and_connections(circuit, shuffler):
    components, connections = list(circuit.components), list(circuit.connections)
    shuffler.shuffle(components)
    shuffler.shuffle(connections)
    one, other = scene(circuit), scene(replace(circuit, components=tuple(components), connections=tuple(connections)))
    assert (one.layout, one.sheet, one.captions, one.streams) == (
        other.layout,
        other.sheet,
        other.captions,
        other.streams,
    )


@pytest.mark.parametrize("circuit", CIRCUITS[:2], ids=str)
def test_a_demonstration_circuit_is_drawn_the_same_for_any_order(circuit):
    shuffler = random.Random(4)
    shuffled = replace(
        circuit,
        components=tuple(shuffler.sample(circuit.components, len(circuit.components))),
        connections=tuple(shuffler.sample(circuit.connections, len(circuit.connections))),
    )
    assert to_svg(draw_circuit(shuffled), "x") == to_svg(draw_circuit(circuit), "x")


@pytest.mark.parametrize("circuit", CIRCUITS, ids=str)
def test_supplies_stand_at_the_left_and_the_patient_at_the_right(circuit):
    """Supplies are at the left, outlet and patient at the right."""
    places = scene(circuit).layout.grid.places
    assert all(places[component.code].column == 0 for component in circuit.of_kind("pipeline-inlet", "cylinder-yoke"))
    forward = [place.column for place in places.values() if not place.is_mirrored]
    assert all(places[component.code].column == max(forward) for component in circuit.of_kind("patient-connection"))


@pytest.mark.parametrize("circuit", CIRCUITS, ids=str)
def test_each_gas_has_a_lane_of_its_own(circuit):
    found = scene(circuit)
    for strip in found.layout.grid.strips:
        gases = {
            component.gas
            for component in circuit.components
            if component.gas
            and component.kind != "ventilator"
            and strip.first <= found.layout.grid.places[component.code].row <= strip.last
        }
        assert len(gases) <= 1
