"""What everybody who works on such machines knows, asked of the computed circuits.

Source of each: common practice, no source.
"""

from dataclasses import replace

import pytest

from fleet.circuit.cover_rows import Status
from fleet.circuit.hazards import hazards_of
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Connection, Component, Port
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import OXYGEN_SHUT, machine, rows

CROSSED = "oxygen-inlet-carries-nitrous-oxide"


def test_a_cut_off_valve_stops_a_hypoxic_mixture_when_oxygen_is_lost():  # common practice, no source
    row = rows("oxygen-inlet-lost")["hypoxic-mixture"]
    assert (row.status, row.stopped_by) == (Status.STOPPED, ("o2-failure-protection",))


def test_a_cut_off_valve_alone_does_not_prevent_one_with_the_oxygen_control_shut():  # common practice, no source
    row = rows(OXYGEN_SHUT)["hypoxic-mixture"]
    assert row.status is Status.OPEN and row.figures.oxygen == pytest.approx(0, abs=1e-4)


def test_ratio_protection_does():  # common practice, no source
    row = rows(OXYGEN_SHUT, "norrfell-3", "ratio-protection")["hypoxic-mixture"]
    assert (row.status, row.stopped_by) == (Status.STOPPED, ("ratio-protection",))


def test_a_crossed_pipeline_defeats_both():  # common practice, no source
    assert rows(CROSSED, "norrfell-3", "ratio-protection")["hypoxic-mixture"].status is Status.OPEN


def test_an_oxygen_analyser_tells_of_a_crossed_pipeline():  # common practice, no source
    row = rows(CROSSED, "norrfell-3", "ratio-protection", "o2-analyser")["hypoxic-mixture"]
    assert (row.status, row.told_by) == (Status.TOLD, ("o2-analyser",))


def test_the_newest_machine_too_knows_a_crossed_pipeline_by_its_analyser_alone():  # common practice, no source
    row = rows(CROSSED, "ostler-octavo")["hypoxic-mixture"]
    assert (row.status, row.told_by, row.stopped_by) == (Status.TOLD, ("o2-analyser",), ())


def test_flush_bypasses_the_vaporizers():  # common practice, no source
    circuit = machine()
    before = solve(circuit, ordinary_state(circuit))
    behind = before.mix("vaporizer-1", "out")
    held = solve(circuit, ordinary_state(circuit).with_settings("flush-valve", pressed=1.0))
    dial = behind.share("halothane")
    assert held.flow("vaporizer-2").mix.share("halothane") == pytest.approx(dial, rel=0.01)
    flush = held.flow("flush-valve").value_m3_s
    # Flush 35 to 75 L/min. Source: APSF, Understanding your machine: oxygen flush valve
    assert to_si(35, "L/min") <= flush <= to_si(75, "L/min")
    assert held.mix("patient", "in").share("halothane") < 0.2 * dial
    assert "awareness" in hazards_of(held)


def leaks_into(name, pressure_cm_h2o, fault):
    """Put a test pressure on the outlet with everything off; return what flows in there, m3/s."""
    circuit = machine(name)
    bulb = Component("bulb", "pipeline-inlet", "Test bulb", "air")
    hose = next(connection for connection in circuit.connections if connection.source.component == "outlet")
    rest = tuple(connection for connection in circuit.connections if connection is not hose)
    rigged = replace(
        circuit, components=(*circuit.components, bulb), connections=(*rest, Connection(Port("bulb", "out"), Port("outlet", "out")))
    )
    state = ordinary_state(circuit)
    for component in circuit.of_kind("flow-control"):
        state = state.with_settings(component.code, set_flow=0.0)
    for component in circuit.of_kind("vaporizer"):
        state = state.with_settings(component.code, dial=0.0)
    given = {"supply_gas": "air", "supply_pressure": to_si(pressure_cm_h2o, "cmH2O")}
    state = State("leak-test", "Leak test", {**state.settings, "bulb": given})
    return solve(rigged, state, (fault,)).flow("bulb").value_m3_s


# 54 leaks: the negative-pressure test found 54, the positive one 28. Source: Anesth Analg 1997; 84: 179-184, abstract
def test_a_positive_pressure_leak_test_does_not_see_past_an_outlet_check_valve():  # common practice, no source
    leak = Fault("vaporizer-rail", "leaking")
    assert leaks_into("norrfell-3", 30, leak) > to_si(100, "mL/min")  # without such a valve
    assert abs(leaks_into("norrfell-3s", 30, leak)) < to_si(1, "mL/min")  # with it
    assert leaks_into("norrfell-3s", -65, leak) < -to_si(100, "mL/min")  # under suction it is seen


def test_without_exclusion_two_agents_can_be_given():  # common practice, no source
    row = rows("two-dials-vaporizer-1-vaporizer-2")["two-agents"]
    assert row.status is Status.OPEN and set(row.figures.agents) == {"halothane", "enflurane"}


def test_an_exclusion_bar_lets_one_agent_through():  # common practice, no source
    row = rows("two-dials-vaporizer-1-vaporizer-2", "norrfell-3", "vaporizer-exclusion")["two-agents"]
    assert (row.status, row.stopped_by) == (Status.STOPPED, ("vaporizer-exclusion",))
    assert set(row.without.agents) == {"halothane", "enflurane"}


SWAPPED = "outlet-out-fresh-gas-hose-in-swapped-with-apl-valve-vent-scavenging-in"


def test_equal_connector_sizes_let_scavenging_and_breathing_hoses_be_swapped():  # common practice, no source
    found = rows(SWAPPED)
    assert found["disconnection"].status is Status.OPEN
    assert found["no-fresh-gas"].figures.fresh_gas_m3_s == pytest.approx(0, abs=1e-9)


def test_30_mm_scavenging_connectors_do_not_let_them():  # common practice, no source
    row = rows(SWAPPED, "norrfell-3", "scavenging-30mm")["disconnection"]
    assert (row.status, row.stopped_by) == (Status.STOPPED, ("scavenging-30mm",))


def test_oxygen_that_joins_last_loses_less_of_itself_by_a_leak_in_the_bank():  # common practice, no source
    shares = {}
    for name, circuit in {"first": machine(), "last": machine("norrfell-3", "o2-last")}.items():
        state = ordinary_state(circuit)
        found = solve(circuit, state, (Fault("flow-bank", "leaking"),))
        shares[name] = found.flow("outlet").value_m3_s * found.flow("outlet").mix.share("oxygen")
    assert shares["last"] > shares["first"]


def test_a_reserve_cylinder_left_open_is_spared_while_the_pipeline_holds_50_psi():  # common practice, no source
    assert "cylinder-emptied" not in rows("oxygen-yoke-left-open")
    assert rows("oxygen-inlet-sagged-oxygen-yoke-open")["cylinder-emptied"].status is Status.OPEN


def test_without_a_pipeline_check_valve_the_cylinder_empties_by_the_open_inlet():  # common practice, no source
    assert rows("oxygen-yoke-in-use")["cylinder-emptied"].status is Status.OPEN
    row = rows("oxygen-yoke-in-use", "norrfell-3s")["cylinder-emptied"]
    assert (row.status, row.stopped_by) == (Status.STOPPED, ("pipeline-check-valve",))


def test_losing_oxygen_leaves_no_fresh_gas_whatever_is_cut_off():  # common practice, no source
    row = rows("oxygen-inlet-lost", "ostler-octavo")["no-fresh-gas"]
    assert row.status is Status.TOLD and "o2-supply-alarm" in row.told_by
