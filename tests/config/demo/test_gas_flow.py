"""The physics of the simulated machines: needles, leaks and closed volumes."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx

from config.demo.gas_flow import ambient_pa_abs, decay_pressures, leak_flow, needle_flow
from inspections.bench.needle import needle_share

AMBIENT = floats(70e3, 105e3)


@given(ambient=AMBIENT, first=floats(110e3, 700e3), second=floats(110e3, 700e3))
def test_a_choked_needle_passes_in_proportion_to_the_absolute_pressure(ambient, first, second):
    """Choked for air above an absolute pressure of 1.89 times ambient. Source: isentropic flow, textbooks."""
    ratio = needle_flow(first, ambient, 1.4) / needle_flow(second, ambient, 1.4)
    assert ratio == approx((first + ambient) / (second + ambient))


@given(ambient=AMBIENT, pressure=floats(0, 700e3), full=floats(200e3, 700e3))
def test_the_simulated_needle_and_that_of_the_bench_agree_though_written_apart(ambient, pressure, full):
    simulated = needle_flow(pressure, ambient, 1.3) / needle_flow(full, ambient, 1.3)
    assert simulated == approx(needle_share(pressure, full, ambient), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(("altitude_m", "kpa"), [(0, 101.325), (1000, 89.874), (2000, 79.495)])
def test_the_ambient_pressure_is_that_of_the_standard_atmosphere(altitude_m, kpa):
    """Source: ICAO Doc 7488, tables."""
    assert ambient_pa_abs(altitude_m) / 1000 == approx(kpa, abs=0.02)


@given(low=floats(10, 3000), high=floats(3000, 9000))
def test_a_leak_grows_with_pressure_and_suction_slower_than_the_pressure_does(low, high):
    small, large = leak_flow(1.0, -low), leak_flow(1.0, high)
    assert small <= large <= small * high / low * (1 + 1e-9)
    assert leak_flow(1.0, 3000) == leak_flow(1.0, -3000) == approx(1.0)


@given(ambient=AMBIENT, warmer=floats(-0.3, 0.3))
def test_a_tight_volume_follows_the_temperature_of_its_gas(ambient, warmer):
    """Ideal gas: p/T is constant."""
    times = (0.0, 30.0)
    last = decay_pressures(
        times, start=3000.0, volume_m3=5e-3, at_3_kpa=0.0, ambient_abs=ambient, kelvin=295.0, kelvin_per_s=warmer / 30
    )[-1]
    assert last == approx((3000.0 + ambient) * (295.0 + warmer) / 295.0 - ambient, abs=2)


def test_a_leaking_volume_loses_what_leaks():
    """Over a second the pressure falls by leak x ambient pressure / volume."""
    leak, ambient = 80e-6 / 60, 101_325.0
    pressures = decay_pressures(
        (0.0, 1.0, 2.0, 60.0), start=3000.0, volume_m3=5e-3, at_3_kpa=leak, ambient_abs=ambient, kelvin=295.0,
        kelvin_per_s=0.0,
    )  # fmt: skip
    assert pressures[0] - pressures[1] == approx(leak * ambient / 5e-3, rel=0.01)
    assert all(later < earlier for earlier, later in pairwise(pressures))
