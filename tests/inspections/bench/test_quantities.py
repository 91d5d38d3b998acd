import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy import constants

from inspections.bench import UNITS, Dimension, Zero, from_si, to_si


# Source: BIPM SI brochure and ISO 80000-4 conventional columns; scipy.constants for psi, bar, torr (CODATA tables).
@pytest.mark.parametrize(
    ("value", "unit", "pascal"),
    [
        (1, "psi", constants.psi),
        (1, "bar", constants.bar),
        (1, "mmHg", 133.322387415),
        (1, "cmH2O", 98.0665),
        (760, "mmHg", 101_325.0144354),
        (30, "cmH2O", 2941.995),
        (3, "kPa", 3000),
        (44, "bar", 638.2 * constants.psi),
    ],
)
def test_pressures_follow_the_exact_constants(value, unit, pascal):
    assert to_si(value, unit) == approx(pascal, rel=1e-4 if unit == "bar" and value == 44 else 1e-12)


# Source: exact products of the psi, rounded as in handbook tables (kPa, two decimals)
@pytest.mark.parametrize(
    ("psi", "kpa"),
    [(20, 137.90), (25, 172.37), (30, 206.84), (45, 310.26), (50, 344.74), (55, 379.21), (75, 517.11), (745, 5136.6)],
)
def test_psi_agree_with_the_handbook_table(psi, kpa):
    assert from_si(to_si(psi, "psi"), "kPa") == approx(kpa, abs=0.05 if psi == 745 else 0.005)


def test_small_pressures_agree_with_the_handbook_table():  # Source: as above
    assert from_si(3000, "cmH2O") == approx(30.5915, abs=5e-5)
    assert from_si(400e3, "psi") == approx(58.015, abs=5e-4)


def test_flows_and_the_rest_come_out_in_si():
    assert to_si(60, "L/min") == approx(1e-3, rel=1e-12)
    assert to_si(60, "mL/min") == approx(1e-6, rel=1e-12)
    assert to_si(25, "%") == 0.25
    assert to_si(2, "min") == 120
    assert to_si(20, "°C") == 293.15
    assert to_si(500, "mL") == approx(5e-4, rel=1e-12)
    assert to_si(1, "psi per L/min") == approx(constants.psi * 60_000, rel=1e-12)
    assert to_si(20, "mL/kPa") == approx(2e-8, rel=1e-12)


def test_an_absolute_pressure_becomes_gauge():
    assert to_si(101.325, "kPa", zero=Zero.ABSOLUTE, ambient_pa_abs=84_560) == approx(16_765)
    assert to_si(101.325, "kPa", zero=Zero.GAUGE, ambient_pa_abs=84_560) == approx(101_325)
    assert from_si(16_765, "kPa", zero=Zero.ABSOLUTE, ambient_pa_abs=84_560) == approx(101.325)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: to_si(1, "furlong"), "not a unit that is known here. Use one of: psi"),
        (lambda: to_si(float("nan"), "psi"), "finite"),
        (lambda: to_si(-1, "kPa", zero=Zero.ABSOLUTE, ambient_pa_abs=1e5), "below zero"),
        (lambda: to_si(1, "kPa", zero=Zero.ABSOLUTE), "needs the ambient pressure"),
        (lambda: to_si(-300, "°C"), "absolute zero"),
        (lambda: to_si(0.5, "yes/no"), "yes"),
    ],
)
def test_bad_quantities_say_what_is_accepted(call, words):
    with pytest.raises(ValueError, match=words):
        call()


_PLAIN = [unit for dimension, units in UNITS.items() if dimension != Dimension.OBSERVATION for unit in units]


@given(value=st.floats(-200, 1e6), unit=st.sampled_from(_PLAIN))
def test_every_unit_converts_there_and_back(value, unit):
    assert from_si(to_si(value, unit), unit) == approx(value, rel=1e-12, abs=1e-9)
