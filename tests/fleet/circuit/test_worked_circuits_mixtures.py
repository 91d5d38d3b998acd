"""What cut-off valves, mixtures, vapours and wrong gas come to, worked out by hand in the comments.

The laws are told at the head of test_worked_circuits.py, which holds numbers 1 to 10.
"""

from math import sqrt

import pytest
from pytest import approx
from scipy.optimize import brentq, fsolve

from tests.fleet.circuit.plumber import (
    LPM,
    PIPELINE_PA,
    PSI,
    ROOM_PA,
    bank_and_outlet,
    built,
    drop,
    flow,
    connections,
    lane,
    component,
    solved,
    state,
    two_gases,
)

FULL_PA_ABS = ROOM_PA + PIPELINE_PA


# 11. and 12. Cut-off valves as oxygen pressure falls


def with_cut_off(**values):
    options = {"type": values.pop("type", "shut-off")}
    valve = component("cut-off", "supply-failure-valve", "nitrous-oxide", options, **values)
    circuit = two_gases(extra=[valve])
    kept = [one for one in circuit.connections if one not in connections("nitrous-oxide-inlet.out > nitrous-oxide-control.in")]
    more = connections(
        "nitrous-oxide-inlet.out > cut-off.in",
        "cut-off.out > nitrous-oxide-control.in",
        "oxygen-inlet.out > cut-off.oxygen",
    )
    return circuit.__class__("worked", "worked", circuit.components, (*kept, *more))


def at_oxygen(psi, circuit, **options):
    how = state(
        oxygen_inlet={"supply_pressure": psi * PSI},
        oxygen_control={"set_flow": 2 * LPM},
        nitrous_oxide_control={"set_flow": 4 * LPM},
    )
    return solved(circuit, how, **options)


@pytest.mark.parametrize(("psi", "nitrous_oxide"), [(50, 4.0), (30, 4.0), (20, 0.0), (10, 0.0), (0, 0.0)])
def test_a_shut_off_valve_passes_all_or_nothing(psi, nitrous_oxide):
    found = at_oxygen(psi, with_cut_off(cut_pressure=20 * PSI))
    assert flow(found, "nitrous-oxide-control") == approx(nitrous_oxide, rel=2e-3, abs=1e-4)
    # Oxygen goes down with its absolute pressure while it is choked: at 30 psi 2 (30 + 14.70) / (50.04 + 14.70)
    if psi >= 20:
        assert flow(found, "oxygen-control") == approx(2 * (psi * PSI + ROOM_PA) / FULL_PA_ABS, rel=1e-3)


@pytest.mark.parametrize(("psi", "output_psi"), [(50, 50), (30, 25), (20, 12.5), (10, 0)])
def test_a_proportional_valve_lets_through_in_step_with_oxygen(psi, output_psi):
    # Shut at 10 psi, 50 psi of output at 50: 1.25 psi for each psi of oxygen above 10
    valve = with_cut_off(type="proportional", cut_pressure=10 * PSI, open_pressure=50 * PSI, full_output=50 * PSI)
    found = at_oxygen(psi, valve)
    # its rounded corner costs 1 % of 50 psi, and it droops by as much again where what comes in is no higher than that
    assert found.gauge("cut-off", "out") == approx(output_psi * PSI, abs=7e3)
    before = found.gauge("nitrous-oxide-control", "in") + ROOM_PA
    if output_psi >= 25:  # choked
        assert flow(found, "nitrous-oxide-control") == approx(4 * before / FULL_PA_ABS, rel=1e-3)
    if output_psi == 0:
        assert flow(found, "nitrous-oxide-control") < 0.05


def test_a_cut_off_valve_taken_away_lets_nitrous_oxide_pass_without_oxygen():
    found = at_oxygen(0, with_cut_off(), removed={"o2-failure-protection"})
    assert found.mix("outlet", "in").share("oxygen") < 1e-6
    # a little of it goes back through the open oxygen control into the empty pipeline
    assert flow(found, "outlet") == approx(4, rel=6e-3)
    assert -0.03 < flow(found, "oxygen-control") < 0


# 13. to 15. Mixture, vapour, flush


def mixed(vaporizer_dial=0.0, pressed=0, ambient=ROOM_PA):
    flush = component("flush", "flush-valve", "oxygen", supply_pressure=PIPELINE_PA, flush_flow=50 * LPM)
    circuit = two_gases(
        ("vaporizer", "vaporizer", {"agent": "sevoflurane"}),
        extra=[flush],
        lines=["oxygen-inlet.out > flush.in", "flush.out > outlet.in"],
        ambient=ambient,
    )
    how = state(
        oxygen_control={"set_flow": 1 * LPM},
        nitrous_oxide_control={"set_flow": 3 * LPM},
        vaporizer={"dial": vaporizer_dial},
        flush={"pressed": pressed},
    )
    return solved(circuit, how)


def test_three_litres_of_nitrous_oxide_to_one_of_oxygen_is_25_percent():
    found = mixed()
    assert found.mix("outlet", "in").share("oxygen") == approx(0.25, rel=1e-3)
    assert flow(found, "outlet") == approx(4, rel=1e-3)


def test_a_dial_at_2_percent_gives_2_percent_beside_the_gases():
    found = mixed(0.02)
    assert found.mix("outlet", "in").share("sevoflurane") == approx(0.02, rel=1e-5)  # 0.02 mL/min pass the flush
    assert found.mix("outlet", "in").share("oxygen") == approx(0.25 * 0.98, rel=1e-3)
    assert flow(found, "outlet") == approx(4 / 0.98, rel=1e-3)  # the vapour swells the flow


def test_at_altitude_the_same_dial_gives_the_same_partial_pressure():
    found = mixed(0.02, ambient=84.56e3)  # 1500 m
    # 2 % of 101.325 kPa is 2.03 kPa, of 84.56 kPa 2.40 %. Source: common practice, no source
    assert found.mix("outlet", "in").share("sevoflurane") == approx(0.02397, rel=1e-3)


def test_flush_thins_the_vapour_and_raises_oxygen():
    found = mixed(0.02, pressed=1)

    # Some 50 L/min of flush and 1 of oxygen through the hose: it loses 10000 (0.3 x + 0.7 x2) of 446 kPa, x = q / 60.
    def hose(q):
        return q - 51 * (FULL_PA_ABS - drop(q, 10e3, 60)) / FULL_PA_ABS

    oxygen = brentq(hose, 10, 60)  # 50.1 L/min
    assert flow(found, "oxygen-inlet") == approx(oxygen, rel=1e-3)
    flushed = oxygen * 50 / 51
    through = (oxygen / 51 + 3) / 0.98  # by way of the vaporizer
    mix = found.mix("outlet", "in")
    assert mix.share("sevoflurane") == approx(0.02 * through / (through + flushed), rel=2e-3)  # 0.15 %
    assert mix.share("oxygen") == approx((oxygen / 51 + flushed) / (through + flushed), rel=1e-3)


def test_saturated_vapour_diluted_is_what_the_two_flows_make():
    components, lines = lane("oxygen")
    more, others = bank_and_outlet()
    copper = component("saturator", "measured-flow-vaporizer", "", {"agent": "halothane"}, supply_pressure=PIPELINE_PA)
    circuit = built(
        [*components, *more, copper], *lines, *others, "oxygen-inlet.out > saturator.in", "saturator.out > bank.in"
    )
    found = solved(circuit, state(oxygen_control={"set_flow": 5 * LPM}, saturator={"set_flow": 0.1 * LPM}))
    # Halothane at 20 C: 32.4 kPa of 101.3, 32 %. 100 mL/min of oxygen take up 100 x 0.32 / 0.68 = 47 mL/min of vapour,
    # in 5.147 L/min: 0.91 %. Source: common practice, no source; vapour pressure 243 mmHg: from memory
    assert found.mix("outlet", "in").share("halothane") == approx(0.0091, rel=0.02)


# 16. Crossed supply


def choked_function(k):
    return sqrt(k) * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1)))


def test_nitrous_oxide_in_the_oxygen_pipeline_passes_everything_and_nobody_is_told_but_by_an_analyser():
    circuit = with_cut_off()
    analyser = component("analyser", "oxygen-analyser")
    circuit = circuit.__class__(
        "worked", "worked", (*circuit.components, analyser), (*circuit.connections, *connections("outlet.in > analyser.in"))
    )
    how = state(
        oxygen_inlet={"supply_gas": "nitrous-oxide"},
        oxygen_control={"set_flow": 2 * LPM},
        nitrous_oxide_control={"set_flow": 4 * LPM},
    )
    found = solved(circuit, how)
    assert found.mix("outlet", "in").share("oxygen") < 1e-9
    # Through a hole set for oxygen: x sqrt(32.00 / 44.01) for the heavier gas, and by the choked flow function of
    # its heat ratio, 1.283 against 1.397 (CoolProp): 2 x 0.8527 x 0.664 / 0.684 = 1.66 L/min
    crossed = 2 * sqrt(31.999 / 44.013) * choked_function(1.283) / choked_function(1.397)
    assert flow(found, "oxygen-control") == approx(crossed, rel=1e-3)
    assert [told.feature for told in found.told if told.feature] == ["o2-analyser"]


# 17. Half way between choked and not: the solver against another


def test_an_unchoked_control_before_a_narrow_tube_agrees_with_fsolve():
    tube = component("tube", "flowmeter", "oxygen", float_drop=60e3)
    components = [component("oxygen-inlet", "pipeline-inlet", "oxygen"), component("control", "flow-control", "oxygen"), tube]
    circuit = built(components, "oxygen-inlet.out > control.in", "control.out > tube.in")
    low = state(oxygen_inlet={"supply_pressure": 60e3}, control={"set_flow": 8 * LPM})
    found = solved(circuit, low)

    k, rated = 1.397, 310e3 + ROOM_PA

    def psi(ratio):
        ratio = max(ratio, (2 / (k + 1)) ** (k / (k - 1)))
        return sqrt(2 * k / (k - 1) * (ratio ** (2 / k) - ratio ** ((k + 1) / k)))

    # Three unknowns: pressure before and after the control (Pa gauge), flow (L/min); the open end takes q/10 Pa.
    def residuals(x):
        before, after, q = x
        wide = 8 * (before + ROOM_PA) * psi((after + ROOM_PA) / (before + ROOM_PA)) / (rated * psi(0))
        return [60e3 - before - drop(q, 10e3, 60), q - wide, after - q / 10 - drop(q, 60e3, 5)]

    before, after, q = fsolve(residuals, [59e3, 15e3, 2.0])
    assert flow(found, "control") == approx(q, rel=1e-5)
    assert found.gauge("control", "in") == approx(before, abs=1)
    assert found.gauge("control", "out") == approx(after, abs=2)
