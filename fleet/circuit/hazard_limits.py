"""Limits for the hazards of a solved circuit, from hazard_limits.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.catalogue.loading import CatalogueError, Entry, Source, by_code, read_tables
from fleet.circuit.units import to_si

_OTHER_UNITS = {"MAC": 1.0, "per hour": 1 / 3600, "m3": 1.0}
_OWN_UNITS = ("%", "ppm", "L/min", "cmH2O", "kPa")
_KEYS = ("code", "value", "unit", "what", "source", "edition", "basis", "note")


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: `value` in `unit` as shown, `si` in SI (Pa gauge, m3/s, fraction, 1/s, m3) or in MAC."""

    code: str
    value: float
    unit: str
    si: float
    what: str
    source: Source
    note: str

    def __str__(self):
        return f"{self.value:g} {self.unit}"


def limit_from(entry: Entry) -> Limit:
    """Return the limit that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(_KEYS)
    value, unit = entry.number_in("value", -1e6, 1e6), entry.text("unit")
    if unit not in _OTHER_UNITS and unit not in _OWN_UNITS:
        raise entry.refuse(f"unit is {unit!r}; accepted: {', '.join((*_OWN_UNITS, *_OTHER_UNITS))}.")
    si = value * _OTHER_UNITS[unit] if unit in _OTHER_UNITS else to_si(value, unit)
    return Limit(entry.text("code"), value, unit, si, entry.text("what"), entry.source(), entry.text("note"))


LIMITS: Mapping[str, Limit] = by_code(read_tables("fleet.circuit", "hazard_limits.toml", "limit"), limit_from)
_SI = {code: limit.si for code, limit in LIMITS.items()}


def limit_si(code: str) -> float:
    """Return a limit in SI. Raises CatalogueError for a code that is not in hazard_limits.toml."""
    try:
        return _SI[code]
    except KeyError:
        known = ", ".join(LIMITS)
        raise CatalogueError(f"hazard_limits.toml has no limit {code!r}. Accepted: {known}.") from None
