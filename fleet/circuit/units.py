"""Numbers with a unit into SI and back, as circuit files and rated values write them.

Inside, everything is SI: Pa gauge, m3/s at 20 C and 101.325 kPa, fraction, s, K, m3. The conventional columns are exact
by definition: 1 cmH2O = 98.0665 Pa, 1 mmHg = 133.322387415 Pa (ISO 80000-4).
"""

from collections.abc import Mapping
from functools import cache
from math import isfinite
from types import MappingProxyType

import pint

from fleet.catalogue.components import UNITS

SI_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "pressure": "Pa",
        "flow": "m3/s",
        "fraction": "1",
        "time": "s",
        "temperature": "K",
        "volume": "m3",
        "pressure per flow": "Pa s/m3",
        "flow per pressure": "m3/s/Pa",
        "amount": "1",
    }
)
UNITS_BY_DIMENSION: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        **{dimension: tuple(dict.fromkeys((*units, SI_UNITS[dimension]))) for dimension, units in UNITS.items()},
        "pressure per flow": ("kPa per L/min", "psi per L/min", "cmH2O per L/min", "Pa s/m3"),
        "flow per pressure": ("L/min per kPa", "mL/min per kPa", "m3/s/Pa"),
        "amount": ("1",),
    }
)
ALL_UNITS: tuple[str, ...] = tuple(dict.fromkeys(unit for units in UNITS_BY_DIMENSION.values() for unit in units))

_ZERO_CELSIUS_K = 273.15
_PINT_WORDS = {
    "cmH2O": "water_column_cm",
    "mmHg": "mercury_column_mm",
    "Pa s/m3": "Pa * s / m ** 3",
    "m3/s/Pa": "m ** 3 / s / Pa",
    "m3/s": "m ** 3 / s",
    "m3": "m ** 3",
    "kPa per L/min": "kPa / (L/min)",
    "psi per L/min": "psi / (L/min)",
    "cmH2O per L/min": "water_column_cm / (L/min)",
    "L/min per kPa": "L/min / kPa",
    "mL/min per kPa": "mL/min / kPa",
}


@cache
def factor(unit: str) -> float:
    """Return what one step of the unit is in SI. Raises ValueError, which lists the units."""
    if unit not in ALL_UNITS:
        raise ValueError(f"{unit!r} is not a unit that is known here. Accepted: {', '.join(ALL_UNITS)}.")
    if unit in ("1", "K", "°C"):
        return 1.0
    if unit == "%":
        return 0.01
    dimension = next(name for name, units in UNITS_BY_DIMENSION.items() if unit in units)
    si = _PINT_WORDS.get(SI_UNITS[dimension], SI_UNITS[dimension])
    return float(_registry().Quantity(1, _PINT_WORDS.get(unit, unit)).to(si).magnitude)


def to_si(value: float, unit: str) -> float:
    """Return a number in SI; a pressure stays gauge. Raises ValueError for a number that is not finite or a unit."""
    si = value * factor(unit)
    if not isfinite(si):
        raise ValueError(f"{value!r} {unit} is not a number that can be used. Give a finite number.")
    return si + _ZERO_CELSIUS_K if unit == "°C" else si


def from_si(value_si: float, unit: str) -> float:
    """Return an SI number in a unit. Raises ValueError for a unit that is not known."""
    step = factor(unit)
    return value_si - _ZERO_CELSIUS_K if unit == "°C" else value_si / step


def short_in(value_si: float, unit: str, si_unit: str) -> tuple[float, str]:
    """Return the shortest number in `unit` that to_si brings back to this very float, else the number in `si_unit`."""
    number = from_si(value_si, unit)
    for digits in range(3, 18):
        short = float(f"{number:.{digits}g}")
        if to_si(short, unit) == value_si:
            return short, unit
    return value_si, si_unit


@cache
def _registry() -> pint.UnitRegistry:
    registry = pint.UnitRegistry()
    registry.define("water_column_cm = 98.0665 pascal")
    registry.define("mercury_column_mm = 133.322387415 pascal")
    return registry
