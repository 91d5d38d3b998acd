"""What must hold for any machine in any use: looked for on random ones."""

import random

import networkx as nx
from hypothesis import given, settings
from pytest import approx

from fleet.catalogue import AGENTS
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE, Condition
from fleet.circuit.gases import SPECIES
from fleet.circuit.network import check_circuit
from fleet.circuit.solver import solve
from tests.fleet.circuit.random_circuits import failed_machines, leaking_machines, machines

QUICK = settings(max_examples=40, deadline=None)
CARRIERS = [species for species in SPECIES if species not in AGENTS]


@given(machines())
@QUICK
def test_a_machine_that_is_put_together_rightly_has_no_problems(made):
    circuit, _ = made
    assert check_circuit(circuit) == ()


def given_ports(found):
    """Ports at which pressure and gas are given."""
    ports = {ROOM, DISPOSAL, STORE}
    for component in found.circuit.components:
        condition = Condition(found.state.of(component.code), ambient_pa_abs=found.circuit.ambient_pa_abs)
        ports |= {boundary.port for boundary in ELEMENTS[component.kind](component, condition).plumbing().boundaries}
    return ports


@given(failed_machines())
@QUICK
def test_of_every_gas_as_much_comes_to_a_junction_as_leaves_it(made):
    circuit, state, faults = made
    found = solve(circuit, state, faults)
    assert found.imbalance < 1e-9
    # Counted again from what is reported. What a vaporizer adds leaves the other gases as many as they were.
    pipes = nx.Graph([(connection.source, connection.target) for connection in circuit.connections])
    pipes.add_nodes_from(port for flow in found.flows.values() for port in (flow.a, flow.b))
    junctions = [group for group in nx.connected_components(pipes) if not group & given_ports(found)]
    for group in junctions:
        ways = [flow for flow in found.flows.values() if (flow.a in group) != (flow.b in group)]
        largest = max((abs(flow.value_m3_s) for flow in ways), default=0.0)
        for species in CARRIERS:
            total = sum(flow.value_m3_s * flow.mix.share(species) * (1 if flow.b in group else -1) for flow in ways)
            assert abs(total) <= 1e-9 * max(largest, 1e-15)


@given(failed_machines())
@QUICK
def test_against_a_valve_goes_no_more_than_its_leak(made):
    circuit, state, faults = made
    found = solve(circuit, state, faults)
    for component in circuit.of_kind("check-valve", "one-way-valve"):
        if any(fault.component == component.code for fault in faults):
            continue
        back = max(found.gauge(component.code, "out") - found.gauge(component.code, "in"), 0.0)
        rated = ELEMENTS[component.kind](component, Condition()).value("highest_back_leak") if component.kind == "check-valve" else 0.0
        # Any seat passes 0.02 mL/min at 400 kPa; a check valve what it is rated for at 100 kPa beside that.
        leak = 0.02e-6 / 60 / 400e3 + rated / 100e3
        assert found.flow(component.code).value_m3_s >= -1.001 * leak * back - 1e-18


@given(leaking_machines())
@QUICK
def test_a_leak_never_raises_the_pressure_where_it_is_and_before_it(made):
    circuit, state, leak = made
    whole, leaking = solve(circuit, state), solve(circuit, state, [leak])
    gas = circuit.component(leak.component).gas
    upstream = [component.code for component in circuit.components if component.code == leak.component or (gas and component.gas == gas)]
    for port, pressure in whole.pressures_pa_abs.items():
        if port.component in upstream and pressure >= circuit.ambient_pa_abs:
            # Another mixture is lighter or heavier, which moves the low pressures a little.
            assert leaking.pressures_pa_abs[port] <= pressure + 1e-4 * pressure


@given(failed_machines())
@QUICK
def test_the_order_of_components_and_connections_makes_no_difference_to_any_machine(made):
    circuit, state, faults = made
    found = solve(circuit, state, faults)
    components, connections = list(circuit.components), list(circuit.connections)
    random.Random(len(connections)).shuffle(components)
    random.Random(len(components)).shuffle(connections)
    shuffled = solve(
        circuit.__class__("other", "other", tuple(components), tuple(connections), frozenset(), circuit.ambient_pa_abs),
        state,
        faults,
    )
    assert shuffled.pressures_pa_abs == found.pressures_pa_abs
    assert {key: flow.value_m3_s for key, flow in shuffled.flows.items()} == {
        key: flow.value_m3_s for key, flow in found.flows.items()
    }


@given(failed_machines())
@QUICK
def test_where_the_solver_starts_makes_no_difference_to_what_is_breathed(made):
    circuit, state, faults = made
    cold, warm = solve(circuit, state, faults), solve(circuit, state, faults, start=solve(circuit, state))
    assert warm.pressures_pa_abs == approx(cold.pressures_pa_abs, rel=1e-6)
    assert warm.flow("outlet").value_m3_s == approx(cold.flow("outlet").value_m3_s, rel=1e-6, abs=1e-12)
