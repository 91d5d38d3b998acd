"""What a cylinder's gauge shows, against property tables and the reference library."""

import pytest
from CoolProp.CoolProp import PropsSI
from pytest import approx

from fleet.circuit.cylinders import COMPRESSIBILITY, LIQUEFIED, compressibility, cylinder_pressure_pa_abs

ATM, PSI, KELVIN = 101_325.0, 6894.757293168, 293.15
NAMES = {
    "oxygen": "Oxygen",
    "air": "Air",
    "nitrogen": "Nitrogen",
    "helium": "Helium",
    "nitrous-oxide": "NitrousOxide",
    "carbon-dioxide": "CarbonDioxide",
}

# Source: CoolProp 8.0.0, Z at 20 C: bar abs, Z
TABLE = {
    "oxygen": ((50, 0.96868), (100, 0.94649), (131, 0.93860), (137, 0.93764), (150, 0.93622), (200, 0.93909)),
    "air": ((50, 0.98791), (100, 0.98814), (131, 0.99462), (137, 0.99644), (150, 1.00101), (200, 1.02602)),
    "nitrogen": ((50, 0.99397), (100, 1.00079), (131, 1.01156), (137, 1.01420), (150, 1.02052), (200, 1.05179)),
    "helium": ((50, 1.02420), (100, 1.04811), (131, 1.06281), (137, 1.06564), (150, 1.07176), (200, 1.09517)),
}


@pytest.mark.parametrize(("gas", "bar", "z"), [(gas, *row) for gas, rows in TABLE.items() for row in rows])
def test_compressibility_is_that_of_the_table(gas, bar, z):
    assert compressibility(gas, bar * 1e5) == approx(z, abs=1e-4)


@pytest.mark.parametrize("gas", COMPRESSIBILITY)
@pytest.mark.parametrize("bar", [1, 5, 20, 80, 180, 219])
def test_compressibility_is_that_of_the_reference_library(gas, bar):  # Source: CoolProp 8.0.0
    assert compressibility(gas, bar * 1e5) == approx(PropsSI("Z", "T", KELVIN, "P", bar * 1e5, NAMES[gas]), abs=1e-4)


def test_half_the_pressure_is_more_than_half_the_content():
    # Source: CoolProp 8.0.0: 4.68 L at 1900 psi 649.3 L, at 1000 psi 336.9 L (52 %)
    shown = cylinder_pressure_pa_abs("oxygen", 336.9 / 649.3, 1900 * PSI, ATM) - ATM
    assert shown / PSI == approx(1000, abs=1)


def test_a_cylinder_filled_to_2200_psi_holds_753_litres():
    # Source: CoolProp 8.0.0: 752.9 L at 2200 psi, 649.3 L at 1900 psi
    assert cylinder_pressure_pa_abs("oxygen", 649.3 / 752.9, 2200 * PSI, ATM) - ATM == approx(1900 * PSI, rel=1e-3)


@pytest.mark.parametrize("gas", COMPRESSIBILITY)
def test_a_full_cylinder_shows_what_a_full_one_shows_and_an_empty_one_nothing(gas):
    assert cylinder_pressure_pa_abs(gas, 1.0, 13.1e6, ATM) == approx(13.1e6 + ATM, rel=1e-9)
    assert cylinder_pressure_pa_abs(gas, 0.0, 13.1e6, ATM) == ATM
    assert cylinder_pressure_pa_abs(gas, 0.001, 13.1e6, ATM) == ATM


@pytest.mark.parametrize("content", [1.0, 0.6, 0.26])
def test_nitrous_oxide_keeps_its_pressure_while_liquid_is_left(content):
    # Source: CoolProp 8.0.0: 5052.5 kPa abs at 20 C
    assert cylinder_pressure_pa_abs("nitrous-oxide", content, 0.0, ATM) == approx(5_052_500, rel=1e-5)


def test_the_last_liquid_goes_with_a_quarter_of_the_gas_left():
    # Source: CoolProp 8.0.0: 402 L are left when the last liquid evaporates, 4.68 L at 20 C; 1590 L full, from memory
    share = 402 / 1590
    assert cylinder_pressure_pa_abs("nitrous-oxide", share * 1.005, 0.0, ATM) == approx(5_052_509)
    assert cylinder_pressure_pa_abs("nitrous-oxide", share * 0.98, 0.0, ATM) < 5_050_000


@pytest.mark.parametrize("gas", LIQUEFIED)
@pytest.mark.parametrize("share", [0.05, 0.3, 0.7, 0.99])
def test_vapour_alone_has_the_pressure_of_the_reference_library(gas, share):  # Source: CoolProp 8.0.0
    saturation, vapour, fill, *_ = LIQUEFIED[gas]
    assert saturation == approx(PropsSI("P", "T", KELVIN, "Q", 1, NAMES[gas]), rel=1e-6)
    assert vapour == approx(PropsSI("D", "T", KELVIN, "Q", 1, NAMES[gas]), rel=1e-5)
    expected = PropsSI("P", "T", KELVIN, "D", share * vapour, NAMES[gas])
    assert cylinder_pressure_pa_abs(gas, share * vapour / fill, 0.0, ATM) == approx(expected, rel=5e-4)


@pytest.mark.parametrize("content", [-0.1, 1.01])
def test_a_content_beyond_full_or_empty_is_refused(content):
    with pytest.raises(ValueError, match="full cylinder, 0 to 1"):
        cylinder_pressure_pa_abs("oxygen", content, 13.1e6, ATM)
