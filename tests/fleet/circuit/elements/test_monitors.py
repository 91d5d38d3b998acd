"""What monitors and alarms show and when they sound, failed and whole."""

from dataclasses import replace

import pytest
from pytest import approx

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.gases import Mix
from fleet.circuit.laws import Nozzle
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import ordinary_state, set_flow
from tests.fleet.circuit.demo_machines import NEWEST, cause, machine


def told(feature, state, *faults):
    """Return whether an alarm of the newest machine sounds in a state."""
    found = solve(machine(NEWEST), state, [Fault(*fault) for fault in faults])
    return feature in {each.feature for each in found.told}


def low_flow(flow=1.0):
    state = ordinary_state(machine(NEWEST))
    for gas in ("oxygen", "nitrous-oxide"):
        state = set_flow(machine(NEWEST), state, gas, to_si(flow / 2, "L/min"))
    return state


def test_a_carbon_dioxide_monitor_alarms_on_what_is_breathed_in_and_not_without():
    exhausted = ("absorber", "exhausted")
    assert told("carbon-dioxide-monitor", low_flow(), exhausted)
    assert not told("carbon-dioxide-monitor", low_flow())
    assert not told("carbon-dioxide-monitor", low_flow(), exhausted, ("gas-monitor", "silent"))


def test_a_carbon_dioxide_monitor_alarms_when_no_breath_comes():
    found = solve(machine(NEWEST), cause("selector-on-the-bag-by-mistake", NEWEST).state).told
    (alarm,) = [each for each in found if each.feature == "carbon-dioxide-monitor"]
    assert alarm.component == "gas-monitor" and alarm.words.endswith("alarms: no breath.")


def test_a_monitor_that_reads_low_misses_a_dose_that_a_sound_one_shows():
    high = ordinary_state(machine(NEWEST)).with_settings("vaporizer-1", dial=3.2 * AGENTS["sevoflurane"].mac)
    assert told("agent-monitor", high)
    assert not told("agent-monitor", high, ("gas-monitor", "reads low"))


def test_an_agent_monitor_warns_of_too_little_only_if_its_low_alarm_is_set():
    off = cause("dial-off", NEWEST).state
    assert not told("agent-monitor", off)
    circuit = machine(NEWEST)
    component = circuit.component("gas-monitor")
    low = replace(component, values={**component.values, "alarm_low_mac": 0.5})
    found = solve(
        replace(circuit, components=tuple(low if each is component else each for each in circuit.components)), off
    )
    assert "agent-monitor" in {each.feature for each in found.told}


# The supply alarm of the newest machine sounds below its set pressure; drifted low, below half of it.
@pytest.mark.parametrize(("share", "whole", "drifted"), [(1.1, False, False), (0.8, True, False), (0.4, True, True)])
def test_a_drifted_alarm_sounds_later(share, whole, drifted):
    alarm = next(iter(machine(NEWEST).of_kind("oxygen-alarm")))
    sounds_at = element_for(alarm, Condition()).value("alarm_pressure")
    state = ordinary_state(machine(NEWEST)).with_settings("oxygen-inlet", supply_pressure=share * sounds_at)
    assert told("o2-supply-alarm", state) is whole
    assert told("o2-supply-alarm", state, (alarm.code, "drifted low")) is drifted


# Vapour cannot be more than saturated: vapour pressure divided by ambient pressure. Source: Dalton's law
def test_a_vaporizer_delivers_at_most_saturated_vapour():
    component = machine(NEWEST).component("vaporizer-2")
    agent = component.options["agent"]
    output, _ = element_for(component, Condition({"dial": 0.99})).output()
    assert output == approx(AGENTS[agent].vapour_pressure_pa_abs / 101_325.0, rel=1e-9)


# An orifice passes in proportion to 1 / sqrt(molar mass); half oxygen, half nitrous oxide has the mean of both masses.
def test_a_mixture_passes_an_orifice_by_its_mean_molar_mass():
    law = Nozzle(1e-6)
    flows = {}
    for gas in ({"oxygen": 1.0}, {"oxygen": 0.5, "nitrous-oxide": 0.5}):
        mix = Mix.of(gas)
        flows[len(gas)] = law.flow(101_425.0, 101_325.0, mix, mix, ()).value
    mean = (GASES["oxygen"].molar_mass_kg_mol + GASES["nitrous-oxide"].molar_mass_kg_mol) / 2
    assert flows[2] / flows[1] == approx((GASES["oxygen"].molar_mass_kg_mol / mean) ** 0.5, rel=1e-3)
