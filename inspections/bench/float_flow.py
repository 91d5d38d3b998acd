"""What a float in a tube shows where gas, pressure or temperature are not those it was marked for.

Above the lowest tenth of its scale a float sits in an annular orifice: the flow past it goes as the root of one over
the density. Near the bottom the gap is long and narrow, the flow there is laminar and goes as one over the viscosity,
and in between neither holds. So the root is used from 10 % of full scale on, and below that nothing is corrected.
Source: flow past a float, any textbook of flow measurement (from memory); for variable-orifice meters confirmed in
xenon, Anesthesiology 1999; 90: 555.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from types import MappingProxyType

from fleet.catalogue.gases import get_gas

from .decay import STANDARD_K, STANDARD_PA_ABS
from .errors import BenchError
from .measuring import Bench, Row
from .propagation import Measured, propagate_measured
from .quantities import from_si
from .uncertainty import RECTANGULAR, Estimate

LOWEST_SHARE = 0.1  # of full scale; the limit and the formula both begin here
ROUNDING = 1e-9
OWN_GAS, CALIBRATED, AS_READ, STANDARD = "own", "calibrated", "as read", "standard"
TUBE_GASES = ("oxygen", "nitrous-oxide", "air", "carbon-dioxide", "helium")
OXYGEN_93 = "oxygen-93"
_ARGON = 1.66182  # kg/m3 at 20 C and 101.325 kPa. Source: CoolProp 8.0.0


def _densities() -> Mapping[str, float]:
    found = {code: get_gas(code).density_kg_m3 for code in TUBE_GASES}
    mixed = 0.93 * found["oxygen"] + 0.05 * _ARGON + 0.02 * get_gas("nitrogen").density_kg_m3
    return MappingProxyType({**found, OXYGEN_93: mixed})


DENSITY = _densities()
"""Density at 20 C and 101.325 kPa abs, kg/m3. Oxygen from a concentrator: 93 % oxygen, 5 % argon, 2 % nitrogen."""


def density(code: str, pa_abs: float, kelvin: float) -> float:
    """Return the density of a gas in kg/m3, as of an ideal gas from its density at 20 C and 101.325 kPa.

    code    of DENSITY;  pa_abs  Pa absolute, 45 to 110 kPa;  kelvin  5 to 45 C
    There its root differs by less than 0.2 % from that of a real gas (CoolProp 8.0.0; most for nitrous oxide).
    """
    return DENSITY[code] * pa_abs / STANDARD_PA_ABS * STANDARD_K / kelvin


def true_per_shown(tube_density: float, test_density: float) -> float:
    """Return the flow through a sound tube over what its float shows, both at the conditions of the test.

    Both densities above zero, in one unit. Source: flow through an orifice, square root of the density.
    """
    return sqrt(tube_density / test_density)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a tube was marked for, and what it was tested with.

    pressure, kelvin      of the calibration; the pressure as gauge, as the bench has every pressure
    reference_kelvin      that a reference which shows a standard volume refers to; None where it shows the volume as it
                          is in the room
    """

    tube_gas: str
    test_gas: str
    pressure: Measured
    kelvin: Measured
    reference_kelvin: Measured | None

    def factor(self, pa_abs: float, kelvin: float, pressure: float, calibration_kelvin: float) -> float:
        """Return true over shown; `pressure` is gauge against pa_abs."""
        marked = density(self.tube_gas, pa_abs + pressure, calibration_kelvin)
        return true_per_shown(marked, density(self.test_gas, pa_abs, kelvin))


@dataclass(frozen=True, slots=True)
class TubeRow:
    """One setting of a tube, with what the reference showed."""

    number: int
    setting: Measured
    reference: Measured


def error_of(bench: Bench, row: TubeRow, given: Conditions, *, calibrated: bool) -> Estimate:
    """Return (shown - reference) / reference of one row, as a fraction with its uncertainty.

    calibrated  what is shown is first multiplied by `factor`: the error of the tube at its own conditions
    """
    standard = given.reference_kelvin
    rest = (standard,) if standard is not None else ()

    def error(shown, reference, pa_abs, kelvin, pressure, marked_kelvin, *reference_kelvin):
        passed = reference * STANDARD_PA_ABS / pa_abs * kelvin / reference_kelvin[0] if reference_kelvin else reference
        factor = given.factor(pa_abs, kelvin, pressure, marked_kelvin) if calibrated else 1.0
        return shown * factor / passed - 1

    around = (bench.ambient, bench.ambient_kelvin, given.pressure, given.kelvin, *rest)
    return propagate_measured(error, (row.setting, row.reference, *around))


def conditions(bench: Bench) -> Conditions:
    """Return the conditions that a sheet states or, where it states none, those that are assumed."""
    tube, test = bench.choice("tube_gas"), bench.choice("test_gas")
    return Conditions(
        tube, tube if test == OWN_GAS else test, _calibration_pressure(bench),
        _temperature(bench, "calibration_temperature", "the tube is marked for 20 °C; its own was not entered."),
        _reference_kelvin(bench),
    )  # fmt: skip


def _calibration_pressure(bench: Bench) -> Measured:
    stated = bench.value("calibration_pressure", nominal=True)
    if stated is None:
        bench.assume("the tube is marked for 101.325 kPa absolute; its own was not entered.")
        gauge = STANDARD_PA_ABS - bench.context.ambient_pa_abs
        return Measured(gauge, ambient_std=-bench.context.ambient_std_pa)
    absolute = stated.value + bench.context.ambient_pa_abs
    if not 45e3 <= absolute <= 110e3:
        message = f"Pressure of the calibration: {absolute / 1000:.4g} kPa absolute. Accepted: 45 to 110 kPa absolute."
        raise BenchError("calibration_pressure", message)
    return stated


def _temperature(bench: Bench, key: str, assumed: str) -> Measured:
    stated = bench.value(key, nominal=True)
    if stated is None:
        bench.assume(assumed)
        return Measured(STANDARD_K)
    if not 263.15 <= stated.value <= 323.15:
        label = next(spec.label for spec in bench.test.readings if spec.key == key)
        raise BenchError(key, f"{label}: {from_si(stated.value, '°C'):.4g} °C. Accepted: -10 to 50 °C.")
    return stated


def _reference_kelvin(bench: Bench) -> Measured | None:
    if bench.choice("reference_volume") != STANDARD:
        return None
    words = "the reference shows the volume at 20 °C and 101.325 kPa; its own temperature was not entered."
    return _temperature(bench, "reference_temperature", words)


SETTING_LIMITS = 0.01
"""Half width of what a float may be off the mark it is set on, as a share of the flow: common practice, no source."""


def tube_rows(bench: Bench) -> tuple[list[TubeRow], list[TubeRow]]:
    """Return the rows from 10 % of full scale on, and those below. Raises BenchError for what cannot be."""
    full_scale, rows = _full_scale(bench), bench.rows("errors", nominal=("set",))
    high, low = [], []
    if full_scale is None:
        return high, low
    division = _division(bench, full_scale)
    for number, row in rows:
        if row["set"].value == 0:
            bench.remarks.append(f"Row {number}: nothing was set, so it has no error. The basal flow is another test.")
            continue
        found = _tube_row(number, row, full_scale, division)
        is_high = found.setting.value >= LOWEST_SHARE * full_scale.value * (1 - ROUNDING)
        (high if is_high else low).append(found)
    return high, low


def _tube_row(number: int, row: Row, full_scale: Measured, division: float | None) -> TubeRow:
    shown, reference = row["set"], row["reference"]
    if shown.value > full_scale.value * (1 + ROUNDING):
        above, top = (from_si(one.value, "L/min") for one in (shown, full_scale))
        message = f"Row {number}: {above:.4g} L/min is above the full scale of the tube, {top:.4g} L/min."
        raise BenchError(f"errors[{number}].set", message)
    if reference.value == 0:
        message = (
            f"Row {number}: the reference shows no flow, so the error cannot be computed. Check that the gas passes it."
        )
        raise BenchError(f"errors[{number}].reference", message)
    half = SETTING_LIMITS * shown.value if division is None else division / 4
    setting = Measured(shown.value, own_std=half / 3**0.5, own_excess=RECTANGULAR)
    return TubeRow(number, setting, reference)


def _division(bench: Bench, full_scale: Measured) -> float | None:
    """Return the smallest division of the scale, None where it was not entered."""
    division = bench.value("division", nominal=True)
    if division is None:
        bench.assume(
            f"the float was set on its mark within ± {SETTING_LIMITS:.0%} of the flow set (common practice, no "
            "source); the division of the scale was not entered."
        )
        return None
    if not 0 < division.value <= full_scale.value:
        top = from_si(full_scale.value, "L/min")
        raise BenchError("division", f"Division of the scale: above zero and up to the full scale of {top:.4g} L/min.")
    return division.value


def _full_scale(bench: Bench) -> Measured | None:
    """Return the full scale of the tube, None where it was not entered. Raises BenchError for one of zero."""
    found = bench.value("full_scale", nominal=True)
    if found is not None and found.value == 0:
        raise BenchError("full_scale", "Full scale of the tube: 0 is not possible. Enter the flow of its last mark.")
    return found
