"""Ambient pressure against the published table and a maintained library."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx, mark

from fleet.catalogue import ambient_pressure_pa_abs


@mark.parametrize(
    ("altitude_m", "kpa_abs"),
    [  # Source: U.S. Standard Atmosphere 1976, geometric (engineeringtoolbox.com ISA table); to 0.01 kPa
        (0, 101.325),
        (500, 95.461),
        (1000, 89.876),
        (1500, 84.560),
        (1609.3, 83.432),
        (2000, 79.501),
        (2240, 77.162),
        (2500, 74.692),
        (3000, 70.121),
        (3650, 64.522),
        (5000, 54.048),
    ],
)
def test_pressure_matches_the_published_table(altitude_m, kpa_abs):
    assert ambient_pressure_pa_abs(altitude_m) / 1000 == approx(kpa_abs, abs=0.001)


@given(altitude_m=floats(-500, 11_000))
def test_pressure_agrees_with_a_kept_library_everywhere(altitude_m):  # Source: fluids, ATMOSPHERE_1976
    assert ambient_pressure_pa_abs(altitude_m) == approx(ATMOSPHERE_1976(altitude_m).P, abs=10)


@mark.parametrize("altitude_m", [-501, 11_001, float("nan")])
def test_an_altitude_outside_the_model_is_refused(altitude_m):
    with pytest.raises(ValueError, match="outside the standard atmosphere.*-500 to 11000 m"):
        ambient_pressure_pa_abs(altitude_m)
