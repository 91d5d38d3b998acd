"""Laws where they set in, change over or leak: each against the same law written another way, with a leak to be seen.

What is expected here is written from the sentences of the laws, not from their code: roots by the usual formula of a
quadratic, ramps as integrals, the lesser of two flows as a norm. Slopes are compared with differences of the flow.
"""

from math import sqrt

import pytest
from pytest import approx
from scipy.integrate import quad

from fleet.circuit.gases import Mix
from fleet.circuit.laws import (
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
)
from fleet.circuit.laws.nozzle import one_way, opening_way
from fleet.circuit.laws.steered import lesser

ATM = 101_325.0
OXYGEN, NITROUS_OXIDE, HELIUM = (Mix.supply(gas) for gas in ("oxygen", "nitrous-oxide", "helium"))
LEAK = 3e-9  # m3/s per Pa: far above that of a shut seat, so that it shows beside a flow
PIPE, WIDE, HOLE = Resistance(2e5, 3e8), Resistance(4e4, 1e7), Nozzle(2e-6)
BAND = Opening(ATM + 20e3, ATM + 60e3)


def density(mix):
    """kg/m3 at 20 C and 101.325 kPa, ideal gas. Source: CODATA 2018, R = 8.314462618 J/(mol K)."""
    return ATM * mix.molar_mass / (8.314462618 * 293.15)


def through(pipe, drop, mix=OXYGEN):
    """The flow that loses `drop` >= 0: the positive root of R2 rho q2 + R1 q - drop = 0."""
    square = pipe.square * density(mix)
    return (-pipe.linear + sqrt(pipe.linear**2 + 4 * square * drop)) / (2 * square)


def eased(x):
    """0 below 0, 1 above 1, between them the cubic that is level at both ends."""
    x = min(max(x, 0.0), 1.0)
    return 3 * x**2 - 2 * x**3


def rounded(x, width):
    """The integral from 0 to x of a slope that rises from 0 to 1 over `width`."""
    return quad(lambda t: min(t / width, 1.0), 0, x, points=[min(width, x)])[0] if x > 0 else 0.0


def lifted(x, width):
    return rounded(x, width) - rounded(x - 1, width)


def norm(way, limit):
    """Below the lesser of both, and close to it where they differ."""
    return (way**-8 + limit**-8) ** (-1 / 8) if way > 0 and limit > 0 else 0.0


def value(law, a, b, *pilots, mix=OXYGEN, behind=HELIUM):
    """The flow at pressures above the room; another gas behind, which no flow forwards may feel."""
    return law.flow(ATM + a, ATM + b, mix, behind, tuple(ATM + pilot for pilot in pilots)).value


@pytest.mark.parametrize("mix", [OXYGEN, NITROUS_OXIDE])
@pytest.mark.parametrize("drop", [0.0, 0.1, 50.0, 4e3])
def test_a_resistance_is_the_root_of_its_equation_in_both_directions(drop, mix):
    assert value(PIPE, drop, 0, mix=mix) == approx(through(PIPE, drop, mix), rel=1e-9, abs=1e-20)
    assert value(PIPE, 0, drop, mix=HELIUM, behind=mix) == approx(-through(PIPE, drop, mix), rel=1e-9, abs=1e-20)
    assert PIPE.by_drop(drop, mix)[0] == approx(through(PIPE, drop, mix), rel=1e-9, abs=1e-20)


@pytest.mark.parametrize("mix", [OXYGEN, NITROUS_OXIDE])
@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 1.0])
def test_a_hole_passes_the_agreed_part_of_its_flow_at_ten_pascal_below_that(share, mix):
    at_ten = value(HOLE, 10, 0, mix=mix)
    assert value(HOLE, 10 * share, 0, mix=mix) == approx(at_ten * share * (3 - share) / 2, rel=1e-9, abs=1e-25)
    assert value(HOLE, 0, 10 * share, mix=HELIUM, behind=mix) == approx(
        -at_ten * share * (3 - share) / 2, rel=1e-9, abs=1e-25
    )


@pytest.mark.parametrize("pressure", [0.0, -1.0])
def test_nothing_flows_out_of_a_vacuum(pressure):
    found = HOLE.flow(pressure, pressure, OXYGEN, OXYGEN, ())
    assert (found.value, found.by_a, found.by_b) == (0, 0, 0)


def test_a_hole_passes_its_share_of_a_pressure_below_one_pascal():
    full = HOLE.flow(100.0, 10.0, OXYGEN, OXYGEN, ()).value  # choked: in proportion to the pressure before it
    assert one_way(HOLE.area_m2, 50.0, 5.0, OXYGEN)[0] == approx(full / 2, rel=1e-9)
    far = [law(HOLE.area_m2, 0.5, 0.5 - 1e-3, OXYGEN) for law in (one_way, opening_way)]
    assert far[0][0] > 100 * far[1][0] > 0


def test_a_valve_that_blocks_back_flow_has_no_slope_where_it_blocks():
    assert opening_way(HOLE.area_m2, ATM, ATM + 5, OXYGEN) == (0, 0, 0)
    assert opening_way(HOLE.area_m2, ATM, ATM, OXYGEN) == (0, 0, 0)


def test_a_flow_into_a_vacuum_is_choked():
    assert value(HOLE, 100e3, -ATM) == value(HOLE, 100e3, -ATM / 2)


OPENS = OneWay(PIPE, 700.0, LEAK, 80.0)


@pytest.mark.parametrize("mix", [OXYGEN, NITROUS_OXIDE])
@pytest.mark.parametrize("over", [-5000, -1, 0, 1, 20, 79.9, 80, 81, 5000])
def test_a_check_valve_opens_over_its_corner_and_leaks_beside(over, mix):
    drop = 700 + over
    expected = through(PIPE, 80 * rounded(over / 80, 1), mix) + LEAK * drop
    assert value(OPENS, drop, 0, mix=mix) == approx(expected, rel=1e-9, abs=1e-20)


def test_a_check_valve_opens_at_once_over_two_pascal_where_nothing_is_said():
    assert value(OneWay(PIPE), 1, 0) == approx(through(PIPE, 0.25), rel=1e-9)  # (1 Pa)2 / (2 x 2 Pa)
    assert value(OneWay(PIPE), -1e5, 0) == approx(-value(Closed(), 1e5, 0), rel=1e-9)


STEERED = Steered(HOLE, BAND, LEAK)


@pytest.mark.parametrize("pilot", [0, 20e3, 20.4e3, 30e3, 40e3, 59e3, 60e3, 90e3])
@pytest.mark.parametrize("place", [(300e3, 0), (0, 300e3), (5, 0)])
def test_a_pilot_opens_a_branch_by_a_cubic_beside_its_leak(pilot, place):
    expected = eased((pilot - 20e3) / 40e3) * value(HOLE, *place) + LEAK * (place[0] - place[1])
    assert value(STEERED, *place, pilot) == approx(expected, rel=1e-9)


REGULATOR = Regulating(ATM + 300e3, 50e3, 2e-6, LEAK)


@pytest.mark.parametrize("behind", [300e3, 299.9e3, 299e3, 275e3, 250e3, 249.5e3, 249e3, 100e3])
def test_a_regulator_opens_over_its_band_below_its_setting(behind):
    expected = lifted((300e3 - behind) / 50e3, 0.02) * value(HOLE, 5e6, behind) + LEAK * (5e6 - behind)
    assert value(REGULATOR, 5e6, behind) == approx(expected, rel=1e-9)


@pytest.mark.parametrize("drop", [-1e4, -1, 0, 1, 4, 9.9, 10, 11])
def test_a_regulator_lets_nothing_back_and_sets_in_level(drop):
    x = min(max(drop / 10, 0), 1)
    full = value(HOLE, 100e3 + max(drop, 10), 100e3) * (x * x * (5 - 3 * x) / 2)
    assert value(REGULATOR, 100e3 + drop, 100e3) == approx(full + LEAK * drop, rel=1e-9, abs=1e-20)


FOLLOWING = Following(REGULATOR, ATM + 40e3, 2.5, ATM, 200e3)


@pytest.mark.parametrize("pilot", [0, 40e3, 40.5e3, 60e3, 119e3, 120e3, 121e3, 150e3])
def test_a_regulator_follows_its_pilot_up_to_its_highest_setting(pilot):
    setting = 200e3 * lifted(2.5 * (pilot - 40e3) / 200e3, 0.02)
    expected = lifted((setting - 30e3) / 50e3, 0.02) * value(HOLE, 400e3, 30e3) + LEAK * 370e3
    assert value(FOLLOWING, 400e3, 30e3, pilot) == approx(expected, rel=1e-9)


def from_nothing(way, drop):
    return way * eased(drop / 2)


METERED = Metered(HOLE, 4e-4, None, LEAK)
METERED_BY_PILOT = Metered(HOLE, 4e-4, BAND, LEAK)
DROPS = [-2e3, 0, 0.01, 0.5, 1, 1.9, 2, 2.1, 40, 3e3, 40e3, 500e3]


@pytest.mark.parametrize("drop", DROPS)
def test_a_metered_flow_is_the_lesser_of_its_limit_and_what_the_hole_lets_through(drop):
    way = from_nothing(value(HOLE, drop, 0), drop) if drop > 0 else 0.0
    assert value(METERED, drop, 0) == approx(norm(way, 4e-4) + LEAK * drop, rel=1e-9, abs=1e-20)


@pytest.mark.parametrize("drop", DROPS)
@pytest.mark.parametrize("pilot", [0, 20e3, 24e3, 40e3, 60e3, 99e3])
def test_a_pilot_takes_back_the_limit_of_a_metered_flow(drop, pilot):
    way = from_nothing(value(HOLE, drop, 0), drop) if drop > 0 else 0.0
    limit = 4e-4 * eased((pilot - 20e3) / 40e3)
    assert value(METERED_BY_PILOT, drop, 0, pilot) == approx(norm(way, limit) + LEAK * drop, rel=1e-9, abs=1e-20)


RATIONED = Rationed(PIPE, WIDE, 2.5, LEAK)


@pytest.mark.parametrize("drop", DROPS)
@pytest.mark.parametrize("felt", [-300, 0, 0.2, 15, 2e3])
def test_a_rationed_flow_is_a_multiple_of_what_is_felt_at_most(drop, felt):
    way = from_nothing(through(PIPE, drop, NITROUS_OXIDE), drop) if drop > 0 else 0.0
    limit = 2.5 * through(WIDE, max(felt, 0.0))
    found = value(RATIONED, drop, 0, 900 + felt, 900, mix=NITROUS_OXIDE)
    assert found == approx(norm(way, limit) + LEAK * drop, rel=1e-9, abs=1e-20)


def test_a_ration_sets_in_with_the_slope_of_what_is_felt():
    found = RATIONED.flow(ATM + 9e3, ATM, OXYGEN, OXYGEN, (ATM + 900, ATM + 900))
    assert found.value == approx(LEAK * 9e3)
    assert found.by_pilots == approx((2.5 / WIDE.linear, -2.5 / WIDE.linear))
    small = RATIONED.flow(ATM + 9e3, ATM, OXYGEN, OXYGEN, (ATM + 900.5, ATM + 900))
    assert small.by_pilots[0] == approx(found.by_pilots[0], rel=0.05)


@pytest.mark.parametrize(("way", "limit", "slopes"), [(0, 0, (0, 0)), (0, 3e-4, (1, 0)), (3e-4, 0, (0, 1))])
def test_the_lesser_of_two_flows_follows_the_one_that_sets_in(way, limit, slopes):
    assert lesser(way, limit) == (0.0, *slopes)


FLOOR = 0.02e-6 / 60 / 400e3
DRAWING, CIRCULATING = Drawing(2e-3, 40e3), Circulating(3e-4, 600.0, WIDE)


@pytest.mark.parametrize("rise", [-90e3, -40.8e3, -40.2e3, -39.5e3, -20e3, -0.7e3, -0.1e3, 0, 5e3])
def test_an_extract_draws_less_as_its_suction_is_used_up(rise):
    expected = 2e-3 * lifted((rise + 40e3) / 40e3 + 0.02, 0.02) + FLOOR * rise
    assert value(DRAWING, rise, 0) == approx(expected, rel=1e-9, abs=1e-22)


@pytest.mark.parametrize("rise", [-2000, -612, -606, -590, -300, -9, -1, 0, 0.3, 1.5, 2, 2.5, 300])
def test_a_breathing_patient_moves_gas_against_a_pressure_and_lets_more_through_along_one(rise):
    driven = 3e-4 * lifted((rise + 600) / 600 + 0.02, 0.02) + FLOOR * rise
    along = through(WIDE, 2 * rounded(rise / 2, 1)) if rise > 0 else 0.0
    assert value(CIRCULATING, rise, 0) == approx(driven + along, rel=1e-9, abs=1e-22)


AT_WORK = {
    "hole": (HOLE, [(4, 0), (0, 7), (10.5, 0), (30e3, 0), (150e3, 50e3)]),
    "pipe": (PIPE, [(3, 0), (0, 800)]),
    "check valve": (OPENS, [(-50, 0), (730, 0), (1500, 0)]),
    "steered": (STEERED, [(300e3, 0, 25e3), (0, 3e3, 45e3), (5, 0, 55e3), (1e3, 0, 3e3)]),
    "regulator": (REGULATOR, [(5e6, 299.5e3), (5e6, 280e3), (5e6, 249.6e3), (60, 55), (50e3, 60e3), (4e5, 3.4e5)]),
    "following": (FOLLOWING, [(400e3, 30e3, 55e3), (400e3, 30e3, 41e3), (400e3, 185e3, 119.5e3),
                              (100.004e3, 100e3, 90e3)]),
    "metered": (METERED, [(0.6, 0), (1.7, 0), (1e3, 0), (20e3, 0), (300e3, 0), (-1e3, 0)]),
    "metered by pilot": (METERED_BY_PILOT, [(0.6, 0, 40e3), (1e3, 0, 25e3), (20e3, 0, 33e3), (300e3, 0, 50e3),
                                            (1e3, 0, 9e3), (-1e3, 0, 40e3)]),
    "rationed": (RATIONED, [(0.9, 0, 950, 900), (400, 0, 950, 900), (9e3, 0, 905, 900), (9e3, 0, 800, 900),
                            (-9, 0, 950, 900)]),
    "extract": (DRAWING, [(-40.4e3, 0), (-20e3, 0), (-0.3e3, 0)]),
    "circulating": (CIRCULATING, [(-606, 0), (-300, 0), (0.7, 0), (30, 0)]),
}  # fmt: skip


def difference(law, point, index):
    """The slope at a point from five flows beside it, accurate to the fourth order."""
    step = max(1e-7 * point[index], 0.02)

    def moved(times):
        place = [*point]
        place[index] += times * step
        return law.flow(place[0], place[1], OXYGEN, NITROUS_OXIDE, tuple(place[2:])).value

    return (8 * (moved(1) - moved(-1)) - (moved(2) - moved(-2))) / (12 * step)


@pytest.mark.parametrize(("name", "place"), [(name, place) for name, (_, at) in AT_WORK.items() for place in at])
def test_slopes_are_the_differences_of_the_flow(name, place):
    law = AT_WORK[name][0]
    point = [ATM + pressure for pressure in place]
    found = law.flow(point[0], point[1], OXYGEN, NITROUS_OXIDE, tuple(point[2:]))
    slopes = (found.by_a, found.by_b, *found.by_pilots)
    steepest = max(map(abs, slopes))
    assert len(slopes) == len(point)
    for index, slope in enumerate(slopes):
        assert slope == approx(difference(law, point, index), rel=2e-5, abs=2e-6 * steepest)
