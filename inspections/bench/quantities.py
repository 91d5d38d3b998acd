"""Units and conversions of the bench, from the one table of fleet/catalogue/dimensions.toml.

Inside, everything is SI: Pa, m3/s, fraction, s, K, m3. A pressure in SI is always gauge: an absolute
reading has the ambient pressure taken off on the way in.
"""

from collections.abc import Mapping
from enum import StrEnum
from math import isfinite

from fleet.catalogue.derived_tables import Live
from fleet.catalogue.dimensions import DIMENSIONS, Unit, find_unit
from fleet.catalogue.dimensions import Dimension as Entry


class _FromTable(StrEnum):
    """A code of the table as a member, also one that was added after this module was read."""

    @classmethod
    def _missing_(cls, value):
        if value not in DIMENSIONS:
            return None
        member = str.__new__(cls, value)
        member._name_, member._value_ = _member_name(value), value
        return member

    @property
    def entry(self) -> Entry:
        return DIMENSIONS[self.value]


def _member_name(code: str) -> str:
    return code.upper().replace(" ", "_")


Dimension = _FromTable("Dimension", {_member_name(code): code for code in DIMENSIONS})


class Zero(StrEnum):
    GAUGE = "gauge"
    ABSOLUTE = "absolute"


YES_NO = "yes/no"
UNITS: Mapping[str, tuple[str, ...]] = Live(
    DIMENSIONS, lambda dimension: dimension.bench_symbols, lambda dimension: bool(dimension.units)
)
SI_UNITS: Mapping[str, str] = Live(DIMENSIONS, lambda dimension: dimension.si, lambda dimension: bool(dimension.units))


def dimension_of(unit: str) -> Dimension:
    """Return the dimension that a unit code measures. Raises ValueError for a code not in UNITS."""
    return Dimension(_known(unit)[0].code)


def si_factor(unit: str) -> float:
    """Return what one step of the unit is in SI, for intervals as well as values (a step of 1 °C is 1 K)."""
    return _known(unit)[1].factor


def to_si(value: float, unit: str, *, zero: Zero | None = None, ambient_pa_abs: float | None = None) -> float:
    """Return a value in SI. A pressure comes out as gauge: an absolute one has the ambient taken off.

    ambient_pa_abs  Pa absolute, needed for zero=ABSOLUTE
    Raises ValueError for a value that is not a finite number, an unknown unit, an absolute pressure
    below zero or without an ambient pressure, and an observation other than 0 or 1.
    """
    if not isfinite(value):
        raise ValueError(f"{value!r} {unit} is not a number that can be used. Enter a finite number.")
    dimension, known = _known(unit)
    si = value * known.factor
    if dimension.code == Dimension.TEMPERATURE:
        return _checked_temperature(f"{value:g} {unit}", si + known.zero)
    if dimension.is_answer and value not in (0, 1):
        raise ValueError(f"An observation is yes (1) or no (0), got {value!r}.")
    if not dimension.has_zero or zero != Zero.ABSOLUTE:
        return si + known.zero
    if si < 0:
        raise ValueError(f"{value:g} {unit} absolute is below zero. An absolute pressure is zero or more.")
    return si - _ambient(ambient_pa_abs)


def from_si(value_si: float, unit: str, *, zero: Zero | None = None, ambient_pa_abs: float | None = None) -> float:
    """Return an SI value (a pressure in gauge Pa) in a unit; zero=ABSOLUTE adds the ambient pressure.

    Raises ValueError for an unknown unit, or zero=ABSOLUTE without an ambient pressure.
    """
    dimension, known = _known(unit)
    if dimension.has_zero and zero == Zero.ABSOLUTE:
        value_si = value_si + _ambient(ambient_pa_abs)
    return (value_si - known.zero) / known.factor


def interval_from_si(interval_si: float, unit: str) -> float:
    """Return a difference or an uncertainty in a unit; no zero point is involved."""
    return interval_si / si_factor(unit)


def _ambient(ambient_pa_abs: float | None) -> float:
    if ambient_pa_abs is None:
        raise ValueError("An absolute pressure needs the ambient pressure. Give it, in Pa absolute.")
    return ambient_pa_abs


def _checked_temperature(shown: str, kelvin: float) -> float:
    if kelvin < 0:
        raise ValueError(f"{shown} is below absolute zero (-273.15 °C).")
    return kelvin


def _known(unit: str) -> tuple[Entry, Unit]:
    found = find_unit(unit)
    if found is None:
        known = ", ".join(symbol for symbols in UNITS.values() for symbol in symbols)
        raise ValueError(f'"{unit}" is not a unit that is known here. Use one of: {known}.')
    return found
