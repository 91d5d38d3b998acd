"""Converts numbers with a unit, as in circuit files and rated values, to SI and back.

Inside, everything is SI: Pa gauge, m3/s at 20 C and 101.325 kPa, fraction, s, K, m3. The units are those of
fleet/catalogue/dimensions.toml; a circuit file may also use the SI unit of each dimension.
"""

from collections.abc import Mapping, Sequence
from math import isfinite

from fleet.catalogue.derived_tables import Live, LiveList
from fleet.catalogue.dimensions import DIMENSIONS, find_unit


def _is_number(dimension):
    return not dimension.is_answer


SI_UNITS: Mapping[str, str] = Live(DIMENSIONS, lambda dimension: dimension.si, _is_number)
UNITS_BY_DIMENSION: Mapping[str, tuple[str, ...]] = Live(
    DIMENSIONS, lambda dimension: dimension.file_symbols, _is_number
)
ALL_UNITS: Sequence[str] = LiveList(
    lambda: tuple(dict.fromkeys(unit for units in UNITS_BY_DIMENSION.values() for unit in units))
)


def factor(unit: str) -> float:
    """Return the factor of the unit to SI. Raises ValueError, which lists the units."""
    if found := find_unit(unit):
        return found[1].factor
    if unit not in ALL_UNITS:
        raise ValueError(f"{unit!r} is not a known unit. Accepted: {', '.join(ALL_UNITS)}.")
    return 1.0


def to_si(value: float, unit: str) -> float:
    """Return a number in SI; a pressure stays gauge. Raises ValueError for a number that is not finite or a unit."""
    si = value * factor(unit)
    if not isfinite(si):
        raise ValueError(f"{value!r} {unit} is not a finite number. Enter a finite number.")
    return si + _zero(unit)


def from_si(value_si: float, unit: str) -> float:
    """Return an SI number in a unit. Raises ValueError for an unknown unit."""
    step = factor(unit)
    return (value_si - _zero(unit)) / step


def short_in(value_si: float, unit: str, si_unit: str) -> tuple[float, str]:
    """Return the shortest number in `unit` that to_si converts back to exactly this float, else the SI number."""
    number = from_si(value_si, unit)
    for digits in range(3, 18):
        short = float(f"{number:.{digits}g}")
        if to_si(short, unit) == value_si:
            return short, unit
    return value_si, si_unit


def text_in(value_si: float, unit: str) -> str:
    """Return an SI number as text in a unit, with the decimals of the table."""
    found = find_unit(unit)
    decimals = found[1].decimals if found else None
    value = from_si(value_si, unit)
    return f"{value:.3g} {unit}" if decimals is None else f"{value:.{decimals}f} {unit}"


def _zero(unit: str) -> float:
    found = find_unit(unit)
    return found[1].zero if found else 0.0
