"""Ordinary use, and the states that a person may look at."""

from dataclasses import replace
from itertools import chain

import pytest

from fleet.catalogue import AGENTS
from fleet.circuit.effects import Seen
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.hazards import hazards_of
from fleet.circuit.solver import solve
from fleet.circuit.structure import Connection, Port
from fleet.circuit.units import from_si, to_si
from fleet.circuit.usual_states import ordinary_state, states_to_show
from tests.fleet.circuit.demo_machines import NAMES, NEWEST, machine


@pytest.mark.parametrize("name", NAMES)
def test_ordinary_use_of_every_machine_hurts_nobody(name):
    circuit = machine(name)
    assert hazards_of(solve(circuit, ordinary_state(circuit))) == ()


@pytest.mark.parametrize("name", NAMES)
def test_states_have_settings_that_the_elements_know(name):
    circuit = machine(name)
    for state in states_to_show(circuit):
        for code, settings in state.settings.items():
            known = element_for(circuit.component(code), Condition()).settings
            assert settings.keys() <= known.keys(), f"{state}: {code}"


@pytest.mark.parametrize("name", NAMES)
def test_states_to_show_are_named_once_and_begin_with_ordinary_use(name):
    states = states_to_show(machine(name))
    assert states[0].code == "ordinary"
    assert len({state.code for state in states}) == len({state.title for state in states}) == len(states)


def test_two_litres_of_oxygen_and_four_of_nitrous_oxide_flow():
    circuit = machine(NEWEST)
    found = solve(circuit, ordinary_state(circuit))
    mix = found.flow("mixer").mix
    assert from_si(found.flow("mixer", "through").value_m3_s, "L/min") == pytest.approx(2, rel=0.05)
    assert from_si(found.flow("mixer", "nitrous oxide").value_m3_s, "L/min") == pytest.approx(4, rel=0.05)
    assert mix.share("oxygen") == pytest.approx(1, abs=1e-6)


def test_a_machine_without_nitrous_oxide_is_used_with_air():
    circuit = machine()
    gone = {component.code for component in circuit.components if component.gas == "nitrous-oxide"}
    kept = tuple(connection for connection in circuit.connections if not {connection.source.component, connection.target.component} & gone)
    small = replace(circuit, components=tuple(p for p in circuit.components if p.code not in gone), connections=kept)
    assert ordinary_state(small).of("air-control")["set_flow"] == to_si(2, "L/min")
    assert "oxygen-shut-air-on" in {state.code for state in states_to_show(small)}


def test_without_pipelines_the_first_cylinder_of_each_gas_is_open():
    circuit = machine(NEWEST)
    gone = {component.code for component in circuit.of_kind("pipeline-inlet")}
    small = replace(circuit, components=tuple(component for component in circuit.components if component.code not in gone))
    state = ordinary_state(small)
    is_open = {component.code: state.of(component.code)["is_open"] for component in small.of_kind("cylinder-yoke")}
    assert is_open == {"oxygen-yoke-1": 1.0, "oxygen-yoke-2": 0.0, "nitrous-oxide-yoke": 1.0}


@pytest.mark.parametrize("agent", sorted(AGENTS))
def test_no_ordinary_dial_gives_more_than_1_3_mac(agent):
    circuit = machine()
    dials = tuple(
        replace(component, options={"agent": agent}, values={}) if component.kind == "vaporizer" else component
        for component in circuit.components
    )
    dial = ordinary_state(replace(circuit, components=dials)).of("vaporizer-1")["dial"]
    assert 0 < dial <= min(1.3 * AGENTS[agent].mac, AGENTS[agent].highest_dial / 3) * (1 + 1e-12)


def test_a_measured_flow_vaporizer_alone_is_set_to_what_keeps_a_patient_asleep():
    circuit = machine("norrfell-3")
    component = circuit.component("vaporizer-1")
    bubbler = replace(component, kind="measured-flow-vaporizer", values={}, options={"agent": "halothane"})
    gone = {"vaporizer-1", "vaporizer-2"}
    kept = tuple(connection for connection in circuit.connections if not {connection.source.component, connection.target.component} & gone)
    connections = (
        *kept,
        Connection(Port("oxygen-inlet", "out"), Port("vaporizer-1", "in")),
        Connection(Port("vaporizer-1", "out"), Port("flow-bank", "out")),
        Connection(Port("vaporizer-rail", "out"), Port("outlet", "in")),
    )
    components = (*(p for p in circuit.components if p.code not in gone), bubbler)
    rigged = replace(circuit, components=components, connections=connections)
    found = solve(rigged, ordinary_state(rigged))
    # By arithmetic 1.3 MAC x 0.75 % = 0.975 % of the whole, the supply standing at 50 psi above the rated 45.
    assert Seen(found).inspired.share("halothane") == pytest.approx(0.00975, rel=0.12)


def test_every_state_to_show_of_the_newest_machine_has_a_solution():
    circuit = machine(NEWEST)
    told = [solve(circuit, state).told for state in states_to_show(circuit)]
    assert {one.feature for one in chain(*told)} >= {"o2-supply-alarm", "o2-analyser"}
