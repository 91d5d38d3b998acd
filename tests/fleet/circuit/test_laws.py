"""Laws of flow against a reference library and against themselves: slopes, monotony, continuity."""

from itertools import pairwise
from math import sqrt

import fluids
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from fleet.circuit.gases import Mix
from fleet.circuit.laws import (
    FLOOR_M3_S_PA,
    TIGHT_M3_S_PA,
    Circulating,
    Closed,
    Drawing,
    Following,
    Metered,
    Nozzle,
    OneWay,
    Opening,
    Rationed,
    Regulating,
    Resistance,
    Steered,
    nozzle_area,
    resistance,
)
from fleet.circuit.laws.nozzle import GAS_CONSTANT, NARROW_PA, TEMPERATURE_K

ATM = 101_325.0
LITRE_PER_MINUTE = 1e-3 / 60
OXYGEN, NITROUS_OXIDE = Mix.supply("oxygen"), Mix.supply("nitrous-oxide")
GASES = [Mix.supply(gas) for gas in ("oxygen", "nitrous-oxide", "air", "helium", "carbon-dioxide")]
GASES.append(OXYGEN.with_vapour("isoflurane", 0.3))


def flow(law, a, b, mix=OXYGEN, pilots=()):
    return law.flow(a, b, mix, mix, pilots)


def mass_flow(law, a, b, mix):
    """kg/s: what flows at 20 C and 101.325 kPa times the density there, ideal gas."""
    return flow(law, a, b, mix).value * ATM * mix.molar_mass / (GAS_CONSTANT * TEMPERATURE_K)


@pytest.mark.parametrize("mix", GASES)
@pytest.mark.parametrize("ratio", [0.6, 0.8, 0.95, 0.999])
def test_unchoked_flow_is_that_of_the_reference_library(mix, ratio):
    # Source: API 520 part 1, F2, as in fluids 1.3: W = A F2 sqrt(2 rho1 (P1 - P2)), rho1 of the ideal gas upstream
    up, area = 400e3, 1e-6
    density = up * mix.molar_mass / (GAS_CONSTANT * TEMPERATURE_K)
    expected = area * fluids.API520_F2(mix.heat_ratio, up, ratio * up) * sqrt(2 * density * up * (1 - ratio))
    assert mass_flow(Nozzle(area), up, ratio * up, mix) == approx(expected, rel=1e-9)


@pytest.mark.parametrize("mix", GASES)
@pytest.mark.parametrize("down", [0.0, 50e3, 101.325e3, 180e3])
def test_choked_flow_is_that_of_the_reference_library(mix, down):
    # Source: API 520 part 1, C, as in fluids 1.3. Its constant is printed with four digits (0.03948 for 0.0394806), so
    # the figures agree to 2e-5; the dependence on the heat ratio, C(k) over C(1.4), agrees to 1e-9.
    up, area = 400e3, 1e-6
    c = fluids.API520_C(mix.heat_ratio)  # kg/h, mm2, kPa, K, g/mol
    expected = area * 1e6 * c * up / 1e3 * sqrt(mix.molar_mass * 1e3 / TEMPERATURE_K) / 3600
    assert mass_flow(Nozzle(area), up, down, mix) == approx(expected, rel=2e-5)
    exact = 3600 * 1e-6 * 1e3 * sqrt(1e-3 / GAS_CONSTANT) / 0.03948
    assert mass_flow(Nozzle(area), up, down, mix) == approx(expected * exact, rel=1e-9)


@pytest.mark.parametrize("mix", GASES)
def test_a_nozzle_chokes_where_the_reference_library_says(mix):
    # Source: fluids 1.3, P_critical_flow (isentropic)
    critical = fluids.P_critical_flow(400e3, mix.heat_ratio)
    nozzle = Nozzle(1e-6)
    choked = flow(nozzle, 400e3, 0.0, mix).value
    assert flow(nozzle, 400e3, critical * 0.999, mix).value == choked
    assert flow(nozzle, 400e3, critical * 1.005, mix).value < choked * (1 - 1e-6)


@pytest.mark.parametrize("mix", GASES)
def test_choked_and_unchoked_flow_meet(mix):
    critical = fluids.P_critical_flow(400e3, mix.heat_ratio)
    below, above = (flow(Nozzle(1e-6), 400e3, critical * x, mix) for x in (1 - 1e-9, 1 + 1e-6))
    assert above.value == approx(below.value, rel=1e-9)
    assert abs(above.by_b) < 1e-5 * below.by_a


def test_a_hole_passes_gases_by_the_root_of_their_density():
    # Densities from CoolProp 8.0.0: nitrous oxide through an orifice for oxygen, sqrt(1.3312 / 1.8403) = 0.8505;
    # those are real densities: the ratio of molar masses, sqrt(31.9988 / 44.0128), is 0.8527
    small = [flow(Nozzle(1e-6), ATM + 200, ATM, mix).value for mix in (OXYGEN, NITROUS_OXIDE)]
    assert small[1] / small[0] == approx(sqrt(31.9988 / 44.0128), rel=1e-4)
    assert small[1] / small[0] == approx(0.8505, abs=0.003)


def test_the_area_of_a_nozzle_passes_the_flow_it_was_worked_out_for():
    area = nozzle_area(2 * LITRE_PER_MINUTE, ATM + 310e3, ATM, OXYGEN)
    assert flow(Nozzle(area), ATM + 310e3, ATM).value == approx(2 * LITRE_PER_MINUTE, rel=1e-12)


def test_a_resistance_loses_the_pressure_of_rohrers_equation():  # Source: from memory, dp = R1 q + R2 rho q2
    pipe = Resistance(5e4, 2e7)
    q = flow(pipe, ATM + 300, ATM).value
    rho = ATM * OXYGEN.molar_mass / (GAS_CONSTANT * TEMPERATURE_K)
    assert rho == approx(1.3303, abs=2e-4)  # Source: CoolProp 8.0.0: 1.33118, times Z of 0.99930
    assert 5e4 * q + 2e7 * rho * q * q == approx(300, rel=1e-12)


def test_a_resistance_is_worked_out_from_one_point():
    assert flow(resistance(200.0, 5e-4), ATM + 200, ATM).value == approx(5e-4, rel=1e-12)


def test_a_shut_valve_passes_a_fiftieth_of_a_millilitre_a_minute_at_400_kpa():
    assert flow(Closed(), ATM + 400e3, ATM).value * 60e6 == approx(0.02, rel=1e-9)


def test_a_check_valve_opens_above_its_pressure_and_leaks_back():
    valve = OneWay(resistance(2e3, 1e-3), opens_at=500.0, leak=1e-12)
    assert flow(valve, ATM + 499, ATM).value == approx(499e-12)
    assert flow(valve, ATM, ATM + 300e3).value == approx(-3e-7)
    assert flow(valve, ATM + 2501, ATM).value == approx(1e-3, rel=1e-5)  # 500 Pa, 2000 Pa, half of the 2 Pa corner


def test_a_regulator_droops_as_told_at_its_rated_flow():
    droop, rated, inlet = 20e3, 100 * LITRE_PER_MINUTE, ATM + 5e6
    area = 3 * nozzle_area(rated, inlet, ATM + 290e3, OXYGEN)
    regulator = Regulating(ATM + 310e3, 3 * droop, area)
    assert flow(regulator, inlet, ATM + 290e3).value == approx(rated, rel=0.04)  # the corner takes 1 % of the band
    assert flow(regulator, inlet, ATM + 310e3).value == approx(TIGHT_M3_S_PA * (5e6 - 310e3))
    assert flow(regulator, ATM + 100e3, ATM + 200e3).value == approx(-TIGHT_M3_S_PA * 100e3)  # no way back


def test_a_proportional_valve_passes_what_oxygen_pressure_allows():
    # ambient + 2 (pilot - 60 kPa): at 160 kPa of oxygen its outlet is held at 200 kPa
    valve = Following(Regulating(ATM + 345e3, 20e3, 1e-5), ATM + 60e3, 2.0, ATM, 345e3)
    assert valve.set_at(ATM + 160e3)[0] == approx(ATM + 200e3, abs=0.01 * 345e3)
    assert valve.set_at(ATM + 50e3) == (ATM, 0.0)
    assert flow(valve, ATM + 345e3, ATM + 200e3, pilots=(ATM + 160e3,)).value < 1e-9
    assert flow(valve, ATM + 345e3, ATM + 150e3, pilots=(ATM + 160e3,)).value > 1e-3


def test_a_shut_off_valve_is_all_open_or_all_shut_outside_its_band():
    valve = Steered(Nozzle(1e-6), Opening(ATM + 138e3, ATM + 145e3))
    wide = flow(Nozzle(1e-6), ATM + 345e3, ATM + 300e3).value
    assert flow(valve, ATM + 345e3, ATM + 300e3, pilots=(ATM + 138e3,)).value == approx(FLOOR_M3_S_PA * 45e3)
    assert flow(valve, ATM + 345e3, ATM + 300e3, pilots=(ATM + 145e3,)).value == approx(wide, rel=1e-6)


def test_an_opening_must_have_a_width():
    with pytest.raises(ValueError, match="must open above that"):
        Opening(2e5, 2e5)


def test_a_ratio_controller_passes_three_times_the_oxygen():
    # Source: ASA Monitor 2015; 79(10): 42, abstract: at most 3 parts of nitrous oxide to 1 of oxygen, 25 % oxygen
    felt = resistance(2e3, 10 * LITRE_PER_MINUTE)
    oxygen = flow(felt, ATM + 300, ATM).value
    passed = flow(Rationed(felt, felt, 3.0), ATM + 300e3, ATM, NITROUS_OXIDE, (ATM + 300, ATM)).value
    assert passed == approx(3 * oxygen, rel=1e-4)
    assert flow(Rationed(felt, felt, 3.0), ATM + 300e3, ATM, NITROUS_OXIDE, (ATM, ATM)).value < 1e-9


def test_an_extract_draws_its_flow_and_gives_up_against_its_suction():
    extract = Drawing(50 * LITRE_PER_MINUTE, 53e3)
    assert flow(extract, ATM + 100, ATM).value == approx(50 * LITRE_PER_MINUTE, rel=1e-3)
    assert flow(extract, ATM - 55e3, ATM).value == approx(0, abs=1e-9)


LAWS = {
    "nozzle": (Nozzle(2e-6), 0),
    "resistance": (Resistance(5e4, 2e7), 0),
    "closed": (Closed(), 0),
    "one way": (OneWay(resistance(2e3, 1e-3), 500.0, 1e-12, 50.0), 0),
    "relief": (OneWay(resistance(5e4, 3e-3), 517e3, corner_pa=1e3), 0),
    "regulating": (Regulating(ATM + 310e3, 60e3, 3e-6), 0),
    "creeping": (Regulating(ATM + 310e3, 60e3, 3e-6, 1e-11), 0),
    "steered": (Steered(Nozzle(2e-6), Opening(ATM + 138e3, ATM + 145e3)), 1),
    "following": (Following(Regulating(ATM + 345e3, 20e3, 3e-6), ATM + 60e3, 2.0, ATM, 345e3), 1),
    "metered": (Metered(Nozzle(2e-6), 1e-4), 0),
    "metered and steered": (Metered(Nozzle(2e-6), 1e-4, Opening(ATM + 138e3, ATM + 172e3)), 1),
    "rationed": (Rationed(resistance(2e3, 2e-4), resistance(2e3, 2e-4), 3.0), 2),
    "drawing": (Drawing(1e-3, 53e3), 0),
    "circulating": (Circulating(1e-4, 5e3, resistance(50, 1e-3)), 0),
}
pressures = st.one_of(st.floats(50e3, 16e6), st.floats(ATM - 6e3, ATM + 6e3), st.floats(ATM + 100e3, ATM + 600e3))
close = st.one_of(st.floats(-20, 20), st.floats(-2e3, 2e3))
named = st.sampled_from(sorted(LAWS))
mixes = st.sampled_from(GASES)


@st.composite
def places(draw):
    """A law with pressures, often close to each other, and its pilots."""
    law, pilots = LAWS[draw(named)]
    a = draw(pressures)
    b = max(draw(st.one_of(pressures, close.map(lambda x: a + x))), 50e3)
    one = draw(pressures)
    other = draw(st.one_of(pressures, close.map(lambda x: one - abs(x))))
    return law, [a, b, *(one, max(other, 50e3))[:pilots]], draw(mixes), draw(mixes)


def at(law, point, mix_a, mix_b):
    return law.flow(point[0], point[1], mix_a, mix_b, tuple(point[2:]))


@settings(max_examples=250, deadline=None)
@given(place=places(), rise=st.floats(1e-3, 5e5))
def test_flow_never_falls_with_the_pressure_before_nor_rises_with_that_behind(place, rise):
    law, point, mix_a, mix_b = place
    here = at(law, point, mix_a, mix_b)
    tiny = 1e-12 * abs(here.value) + 1e-18
    assert here.by_a >= 0 >= here.by_b
    assert at(law, [point[0] + rise, *point[1:]], mix_a, mix_b).value >= here.value - tiny
    assert at(law, [point[0], point[1] + rise, *point[2:]], mix_a, mix_b).value <= here.value + tiny


@settings(max_examples=150, deadline=None)
@given(place=places())
def test_slopes_are_those_of_the_flow(place):
    law, point, mix_a, mix_b = place
    for index in range(len(point)):
        step = max(point[index] * 1e-7, 0.02)
        moves = [step * component / 20 for component in range(-20, 21)]  # close enough to meet a steep corner between
        near = [point[:index] + [point[index] + move] + point[index + 1 :] for move in moves]
        flows = [at(law, one, mix_a, mix_b) for one in near]
        found = (flows[-1].value - flows[0].value) / (2 * step)
        told = [slopes_of(one)[index] for one in flows]
        room = 1e-3 * max(map(abs, told)) + 1e-9 * abs(flows[20].value) / step + 1e-18
        assert min(told) - room <= found <= max(told) + room


def slopes_of(found):
    return (found.by_a, found.by_b, *found.by_pilots)


@settings(max_examples=150, deadline=None)
@given(place=places(), to=pressures, at_b=st.booleans())
def test_flow_has_no_jumps(place, to, at_b):
    law, point, mix_a, mix_b = place
    ends = [point[at_b] + (to - point[at_b]) * share / 2**40 for share in (0, 1)]
    low, high = (at(law, [*point[:at_b], end, *point[at_b + 1 :]], mix_a, mix_b) for end in ends)
    steepest = max(abs(slopes_of(one)[at_b]) for one in (low, high))
    assert abs(high.value - low.value) <= (steepest * 1.5 + 1e-4) * abs(ends[1] - ends[0]) + 1e-12


@pytest.mark.parametrize("name", sorted(LAWS))
def test_a_law_is_continuous_where_gas_turns_round(name):
    law, pilots = LAWS[name]
    steered = (ATM + 160e3, ATM + 159e3)[:pilots]
    for one, other in pairwise([-1e-6, 0.0, 1e-6]):
        values = [law.flow(ATM + x, ATM, OXYGEN, NITROUS_OXIDE, steered).value for x in (one, other)]
        assert abs(values[1] - values[0]) < 1e-8


def test_the_slope_of_a_hole_stays_finite_where_nothing_flows():
    here = flow(Nozzle(1e-6), ATM, ATM)
    assert here.value == 0
    wide = flow(Nozzle(1e-6), ATM + NARROW_PA, ATM)
    assert here.by_a == approx(1.5 * wide.value / NARROW_PA, rel=1e-3)


AT_WORK = {  # pressures before and behind, and pilots, at which each valve is neither shut nor wide open: kPa gauge
    "one way": [(100.52, 100, ()), (103, 100, ())],
    "relief": [(517.4, 0, ()), (560, 0, ())],
    "regulating": [(5000, 309.5, ()), (5000, 290, ()), (320, 270, ()), (5000, 249.7, ())],
    "steered": [(345, 300, (141,)), (345, 20, (144,))],
    "following": [(345, 190, (160,)), (345, 60, (110,)), (345, 338, (232,))],
    "metered": [(8, 0, ()), (20, 0, ())],
    "metered and steered": [(345, 0, (150,)), (20, 0, (160,))],
    "rationed": [(300, 1, (1.3, 1.0)), (1.5, 1, (1.3, 1.0))],
    "drawing": [(-30, 0, ()), (0.5, 0, ())],
    "circulating": [(-2, 0, ()), (0.02, 0, ())],
}


@pytest.mark.parametrize(("name", "place"), [(name, place) for name, places in AT_WORK.items() for place in places])
def test_slopes_are_exact_where_a_valve_is_at_work(name, place):
    law, _ = LAWS[name]
    a, b, pilots = place
    point = [ATM + 1e3 * pressure for pressure in (a, b, *pilots)]
    told = slopes_of(at(law, point, OXYGEN, OXYGEN))
    for index, slope in enumerate(told):
        step = 0.05
        ends = [[*point[:index], point[index] + move, *point[index + 1 :]] for move in (-step, step)]
        low, high = (at(law, end, OXYGEN, OXYGEN).value for end in ends)
        assert (high - low) / (2 * step) == approx(slope, rel=2e-3, abs=1e-7 * abs(low) + 1e-15)
