"""Units and conversions, on one shared pint registry.

Inside, everything is SI: Pa, m3/s, fraction, s, K, m3. A pressure in SI is always gauge: an absolute
reading has the ambient pressure taken off on the way in. The conventional water and mercury columns
are exact by definition: 1 cmH2O = 98.0665 Pa, 1 mmHg = 133.322387415 Pa (ISO 80000-4; pint agrees).
"""

from collections.abc import Mapping
from enum import StrEnum
from functools import cache
from math import isfinite
from types import MappingProxyType

import pint


class Dimension(StrEnum):
    PRESSURE = "pressure"
    FLOW = "flow"
    FRACTION = "fraction"
    TIME = "time"
    TEMPERATURE = "temperature"
    VOLUME = "volume"
    OBSERVATION = "observation"
    PRESSURE_PER_FLOW = "pressure per flow"
    PRESSURE_PER_TIME = "pressure per time"
    COMPLIANCE = "compliance"


class Zero(StrEnum):
    GAUGE = "gauge"
    ABSOLUTE = "absolute"


YES_NO = "yes/no"

UNITS: Mapping[Dimension, tuple[str, ...]] = MappingProxyType(
    {
        Dimension.PRESSURE: ("psi", "kPa", "bar", "mmHg", "cmH2O"),
        Dimension.FLOW: ("L/min", "mL/min"),
        Dimension.FRACTION: ("%",),
        Dimension.TIME: ("s", "min"),
        Dimension.TEMPERATURE: ("°C",),
        Dimension.VOLUME: ("mL", "L"),
        Dimension.OBSERVATION: (YES_NO,),
        Dimension.PRESSURE_PER_FLOW: ("psi per L/min", "kPa per L/min", "cmH2O per L/min"),
        Dimension.PRESSURE_PER_TIME: ("psi/min", "kPa/min", "Pa/min"),
        Dimension.COMPLIANCE: ("mL/kPa", "mL/cmH2O"),
    }
)

SI_UNITS: Mapping[Dimension, str] = MappingProxyType(
    {
        Dimension.PRESSURE: "Pa",
        Dimension.FLOW: "m3/s",
        Dimension.FRACTION: "1",
        Dimension.TIME: "s",
        Dimension.TEMPERATURE: "K",
        Dimension.VOLUME: "m3",
        Dimension.OBSERVATION: "1",
        Dimension.PRESSURE_PER_FLOW: "Pa s/m3",
        Dimension.PRESSURE_PER_TIME: "Pa/s",
        Dimension.COMPLIANCE: "m3/Pa",
    }
)

_DIMENSION_OF = {unit: dimension for dimension, units in UNITS.items() for unit in units}

registry = pint.UnitRegistry()
registry.define("water_column_cm = 98.0665 pascal")
registry.define("mercury_column_mm = 133.322387415 pascal")

_PINT_NAMES = {"cmH2O": "water_column_cm", "mmHg": "mercury_column_mm"}
_SI_PINT = {
    Dimension.PRESSURE: "pascal",
    Dimension.FLOW: "meter ** 3 / second",
    Dimension.TIME: "second",
    Dimension.VOLUME: "meter ** 3",
    Dimension.PRESSURE_PER_FLOW: "pascal * second / meter ** 3",
    Dimension.PRESSURE_PER_TIME: "pascal / second",
    Dimension.COMPLIANCE: "meter ** 3 / pascal",
}
_ZERO_CELSIUS_K = 273.15


def dimension_of(unit: str) -> Dimension:
    """Return the dimension that a unit code measures. Raises ValueError for a code not in UNITS."""
    try:
        return _DIMENSION_OF[unit]
    except KeyError:
        known = ", ".join(_DIMENSION_OF)
        raise ValueError(f'"{unit}" is not a unit that is known here. Use one of: {known}.') from None


@cache
def si_factor(unit: str) -> float:
    """Return what one step of the unit is in SI, for intervals as well as values (a step of 1 °C is 1 K)."""
    dimension = dimension_of(unit)
    if dimension is Dimension.FRACTION:
        return 0.01
    if dimension in (Dimension.OBSERVATION, Dimension.TEMPERATURE):
        return 1.0
    expression = unit.replace(" per L/min", " / (L/min)")
    for code, name in _PINT_NAMES.items():
        expression = expression.replace(code, name)
    return float(registry.Quantity(1, expression).to(_SI_PINT[dimension]).magnitude)


def to_si(value: float, unit: str, *, zero: Zero | None = None, ambient_pa_abs: float | None = None) -> float:
    """Return a value in SI. A pressure comes out as gauge: an absolute one has the ambient taken off.

    ambient_pa_abs  Pa absolute, needed for zero=ABSOLUTE
    Raises ValueError for a value that is not a finite number, an unknown unit, an absolute pressure
    below zero or without an ambient pressure, and an observation other than 0 or 1.
    """
    if not isfinite(value):
        raise ValueError(f"{value!r} {unit} is not a number that can be used. Enter a finite number.")
    dimension = dimension_of(unit)
    si = value * si_factor(unit)
    if dimension is Dimension.TEMPERATURE:
        return _checked_temperature(value, si + _ZERO_CELSIUS_K)
    if dimension is Dimension.OBSERVATION and value not in (0, 1):
        raise ValueError(f"An observation is yes (1) or no (0), got {value!r}.")
    if dimension is not Dimension.PRESSURE or zero != Zero.ABSOLUTE:
        return si
    if si < 0:
        raise ValueError(f"{value:g} {unit} absolute is below zero. An absolute pressure is zero or more.")
    return si - _ambient(ambient_pa_abs)


def from_si(value_si: float, unit: str, *, zero: Zero | None = None, ambient_pa_abs: float | None = None) -> float:
    """Return an SI value (a pressure in gauge Pa) in a unit; zero=ABSOLUTE adds the ambient pressure.

    Raises ValueError for an unknown unit, or zero=ABSOLUTE without an ambient pressure.
    """
    dimension = dimension_of(unit)
    if dimension is Dimension.TEMPERATURE:
        return value_si - _ZERO_CELSIUS_K
    if dimension is Dimension.PRESSURE and zero == Zero.ABSOLUTE:
        value_si = value_si + _ambient(ambient_pa_abs)
    return value_si / si_factor(unit)


def interval_from_si(interval_si: float, unit: str) -> float:
    """Return a difference or an uncertainty in a unit; no zero point is involved."""
    return interval_si / si_factor(unit)


def _ambient(ambient_pa_abs: float | None) -> float:
    if ambient_pa_abs is None:
        raise ValueError("An absolute pressure needs the ambient pressure. Give it, in Pa absolute.")
    return ambient_pa_abs


def _checked_temperature(value: float, kelvin: float) -> float:
    if kelvin < 0:
        raise ValueError(f"{value:g} °C is below absolute zero (-273.15 °C).")
    return kelvin
