"""Real gas: densities and vapour pressures against the reference library and the tables of handbooks."""

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fleet.catalogue.gases import get_gas
from inspections.bench.real_gas import PERMANENT, SATURATION, VAPOUR, density, highest_kelvin, pressure, saturation

ZERO_C, ATMOSPHERE = 273.15, 101_325
NAMES = {"oxygen": "Oxygen", "air": "Air", "nitrogen": "Nitrogen", "helium": "Helium",
         "nitrous-oxide": "NitrousOxide", "carbon-dioxide": "CarbonDioxide"}  # fmt: skip
CELSIUS = st.floats(-10, 50)


def compressibility(gas, pa_abs, celsius):
    kelvin = celsius + ZERO_C
    return pa_abs * get_gas(gas).molar_mass_kg_mol / (density(gas, pa_abs, kelvin) * 8.314462618 * kelvin)


@pytest.mark.parametrize("bar", [1, 20, 50, 80, 110, 140, 200, 219])
@pytest.mark.parametrize("celsius", [-10, 0, 15, 20, 30, 50])
@pytest.mark.parametrize("gas", PERMANENT)
def test_a_permanent_gas_has_the_density_of_the_reference_library(gas, celsius, bar):  # Source: CoolProp 8.0.0
    expected = PropsSI("D", "T", celsius + ZERO_C, "P", bar * 1e5, NAMES[gas])
    assert density(gas, bar * 1e5, celsius + ZERO_C) == approx(expected, rel=2.5e-4)


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6, 0.8, 0.9, 0.97])
@pytest.mark.parametrize("celsius", [-10, 0, 10, 20, 26])
@pytest.mark.parametrize("gas", VAPOUR)
def test_a_vapour_has_the_density_of_the_reference_library(gas, celsius, share):  # Source: CoolProp 8.0.0
    kelvin = celsius + ZERO_C
    pa_abs = share * PropsSI("P", "T", kelvin, "Q", 1, NAMES[gas])
    expected = PropsSI("D", "T", kelvin, "P", pa_abs, NAMES[gas])
    assert density(gas, pa_abs, kelvin) == approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("celsius", "kilopascal", "kg_m3"),
    [(0, 3122.1, 85.2), (15, 4503.7, 134.2), (20, 5052.5, 158.0), (21.1, 5179.8, 164.0), (25, 5651.8, 188.8)],
)
def test_nitrous_oxide_boils_at_the_pressures_of_the_table(celsius, kilopascal, kg_m3):
    """Source: table of saturated nitrous oxide by CoolProp 8.0.0; textbooks print "44 bar at 15 °C"."""
    kelvin = celsius + ZERO_C
    assert saturation("nitrous-oxide", kelvin) / 1000 == approx(kilopascal, rel=5e-4)
    assert density("nitrous-oxide", kilopascal * 1000, kelvin) == approx(kg_m3, rel=2e-3)
    assert density("nitrous-oxide", 2 * kilopascal * 1000, kelvin) == approx(kg_m3, rel=2e-3)  # no vapour is denser


@pytest.mark.parametrize(
    ("gas", "factors"),
    [
        ("oxygen", (0.96868, 0.94649, 0.93860, 0.93764, 0.93622, 0.93909)),
        ("air", (0.98791, 0.98814, 0.99462, 0.99644, 1.00101, 1.02602)),
        ("nitrogen", (0.99397, 1.00079, 1.01156, 1.01420, 1.02052, 1.05179)),
        ("helium", (1.02420, 1.04811, 1.06281, 1.06564, 1.07176, 1.09517)),
    ],
)
def test_compressibility_at_20_c_is_that_of_the_table(gas, factors):
    """Source: table at 50, 100, 131, 137, 150 and 200 bar absolute by CoolProp 8.0.0."""
    for bar, factor in zip((50, 100, 131, 137, 150, 200), factors, strict=True):
        assert compressibility(gas, bar * 1e5, 20) == approx(factor, abs=2e-4)


@pytest.mark.parametrize(
    ("celsius", "kilopascal"), [(5, 13_027), (20, 14_036), (25, 14_372), (35, 15_042), (45, 15_710)]
)
def test_oxygen_filled_at_15_c_has_the_pressures_of_the_table_when_it_warms(celsius, kilopascal):
    """Source: oxygen of 13,700 kPa at 15 °C, at constant density by CoolProp 8.0.0. Ideal gas: 15,137 at 45 °C."""
    held = density("oxygen", 13.7e6 + ATMOSPHERE, 15 + ZERO_C)
    assert (pressure("oxygen", held, celsius + ZERO_C) - ATMOSPHERE) / 1000 == approx(kilopascal, rel=5e-4)


@given(st.sampled_from(list(NAMES)), st.floats(0.001, 0.99), CELSIUS)
def test_the_pressure_of_a_density_is_the_pressure_again(gas, share, celsius):
    kelvin = min(celsius + ZERO_C, highest_kelvin(gas))
    pa_abs = share * (saturation(gas, kelvin) or 22e6)
    assert pressure(gas, density(gas, pa_abs, kelvin), kelvin) == approx(pa_abs, rel=1e-8)


@given(st.sampled_from(list(NAMES)), st.floats(0.001, 0.97), st.floats(1.001, 1.02), CELSIUS)
def test_a_gas_is_denser_at_a_higher_pressure_and_thinner_when_warm(gas, share, more, celsius):
    kelvin = min(celsius + ZERO_C, highest_kelvin(gas) - 1)
    pa_abs = share * (saturation(gas, kelvin) or 22e6)
    assert density(gas, pa_abs * more, kelvin) > density(gas, pa_abs, kelvin) > density(gas, pa_abs, kelvin + 1)


def test_there_is_no_vapour_pressure_of_a_permanent_gas_nor_above_the_critical_point():
    assert saturation("oxygen", 293.15) is None
    assert [saturation(gas, point + 0.1) for gas, (point, _, _) in SATURATION.items()] == [None, None]
