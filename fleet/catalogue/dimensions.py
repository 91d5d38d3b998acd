"""All dimensions, from dimensions.toml: units, bounds, and the requirements for a reading.

Inside, everything is SI: Pa, m3/s, fraction, s, K, m3. A pressure stays gauge. The conventional columns are exact by
definition: 1 cmH2O = 98.0665 Pa, 1 mmHg = 133.322387415 Pa (ISO 80000-4).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from types import MappingProxyType
from typing import Any

from fleet.catalogue.derived_tables import Live, LiveList
from fleet.catalogue.loading import CatalogueError, Entry, Source, by_code, read_tables

UNIT_KEYS = {"symbol", "factor", "zero", "decimals", "spellings", "pint", "group"}
BOUND_KEYS = {"low", "high", "finest", "unit"}
FLAGS = ("negative", "no_instrument", "gauge", "derived", "answer")
REQUIRED = ("code", "name", "si", "units", "bounds", "source", "edition", "basis")


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = number x factor + zero. `decimals`: how many a screen shows, None for as many as needed.

    group  what it measures in practice, where a site prefers a unit of its own for that; else empty
    """

    symbol: str
    factor: float
    zero: float = 0.0
    decimals: int | None = None
    spellings: tuple[str, ...] = ()
    pint: str = ""
    group: str = ""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Plausible values in SI, ends included; `finest` is the smallest plausible step, `unit` that of the table."""

    low: float
    high: float
    finest: float
    unit: Unit
    source: Source


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension, such as pressure.

    may_be_negative   a reading of it may be below zero
    needs_instrument  a reading counts only with the instrument that showed it
    has_zero          a reading of it is gauge or absolute
    is_derived        computed from others: not shown by an instrument, not on a rating plate
    is_answer         yes (1) or no (0)
    """

    code: str
    name: str
    si: str
    units: tuple[Unit, ...]
    bounds: Bounds
    also: tuple[str, ...] = ()
    may_be_negative: bool = False
    needs_instrument: bool = True
    has_zero: bool = False
    is_derived: bool = False
    is_answer: bool = False
    bench_unit: str = ""

    def __str__(self):
        return self.code

    @property
    def label(self) -> str:
        """The name with the zero that instruments use."""
        return f"{self.name} (gauge)" if self.has_zero else self.name

    @property
    def symbols(self) -> tuple[str, ...]:
        """The units, the preferred one first."""
        return tuple(unit.symbol for unit in self.units)

    @property
    def bench_symbols(self) -> tuple[str, ...]:
        """The units, the one of bench tests first."""
        first = (self.bench_unit,) if self.bench_unit else ()
        return tuple(dict.fromkeys((*first, *self.symbols)))

    @property
    def file_symbols(self) -> tuple[str, ...]:
        """The units that a circuit file may use: the units on screen, and the SI unit."""
        return tuple(dict.fromkeys((*self.symbols, self.si)))


@dataclass(frozen=True, slots=True)
class Use:
    """Narrower bounds for one use of a dimension, such as the ambient pressure."""

    code: str
    name: str
    dimension: str
    bounds: Bounds


def unit_from(entry: Entry, table: Any) -> Unit:
    """Return one unit of a TOML table. Raises CatalogueError."""
    if not isinstance(table, dict) or not {"symbol", "factor"} <= set(table) <= UNIT_KEYS:
        raise entry.refuse(f"units must hold tables of {', '.join(sorted(UNIT_KEYS))}, not {table!r}.")
    if not (isfinite(table["factor"]) and table["factor"] > 0):
        raise entry.refuse(f"factor of {table['symbol']} is {table['factor']}; accepted: more than 0.")
    return Unit(**{**table, "spellings": tuple(table.get("spellings", ()))})


def bounds_from(entry: Entry, units: Sequence[Unit]) -> Bounds:
    """Return the bounds of a TOML table in SI. Raises CatalogueError."""
    table = entry.get("bounds", dict)
    if not {"high", "finest", "unit"} <= set(table) <= BOUND_KEYS:
        raise entry.refuse(f"bounds must hold {', '.join(sorted(BOUND_KEYS))}, not {table!r}.")
    unit = next((unit for unit in units if unit.symbol == table["unit"]), None)
    if unit is None:
        raise entry.refuse(f"the unit of bounds is {table['unit']!r}; accepted: {[unit.symbol for unit in units]}.")
    high = table["high"] * unit.factor + unit.zero
    low = table.get("low", -table["high"]) * unit.factor + unit.zero
    if not low < high or not table["finest"] > 0:
        raise entry.refuse("bounds need a low below the high, and a finest above 0.")
    return Bounds(low, high, table["finest"] * unit.factor, unit, entry.source())


def dimension_from(entry: Entry) -> Dimension:
    """Return the dimension that a TOML table describes. Raises CatalogueError."""
    entry.check_keys((*REQUIRED, *FLAGS, "also", "bench_unit"))
    units = tuple(unit_from(entry, table) for table in entry.get("units", list))
    flags = {flag: entry.truth(flag) if flag in entry.table else False for flag in FLAGS}
    bench_unit = entry.text("bench_unit") if "bench_unit" in entry.table else ""
    if bench_unit and bench_unit not in {unit.symbol for unit in units}:
        raise entry.refuse(f"bench_unit is {bench_unit!r}, which is not among its units.")
    return Dimension(
        code=entry.text("code"),
        name=entry.text("name"),
        si=entry.text("si"),
        units=units,
        bounds=bounds_from(entry, (*units, Unit(entry.text("si"), 1.0))),
        also=entry.texts("also") if "also" in entry.table else (),
        may_be_negative=flags["negative"],
        needs_instrument=not flags["no_instrument"],
        has_zero=flags["gauge"],
        is_derived=flags["derived"],
        is_answer=flags["answer"],
        bench_unit=bench_unit,
    )


def use_from(entry: Entry) -> Use:
    """Return the use that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(("code", "name", "dimension", "bounds", "source", "edition", "basis"))
    dimension = DIMENSIONS.get(entry.text("dimension"))
    if dimension is None:
        raise entry.refuse(f"dimension is {entry.text('dimension')!r}; accepted: {', '.join(DIMENSIONS)}.")
    return Use(entry.text("code"), entry.text("name"), dimension.code, bounds_from(entry, dimension.units))


_entries: dict[str, Dimension] = {}
_by_symbol: dict[str, tuple[Dimension, Unit]] = {}
DIMENSIONS: Mapping[str, Dimension] = MappingProxyType(_entries)


def add_dimensions(dimensions: Iterable[Dimension]) -> None:
    """Add dimensions to the table. Raises CatalogueError for a code or a unit that already exists."""
    for dimension in dimensions:
        if dimension.code in _entries:
            raise CatalogueError(f"The dimension {dimension} is already in the table.")
        for symbol in (word for unit in dimension.units for word in (unit.symbol, *unit.spellings)):
            if symbol in _spellings():
                raise CatalogueError(f"{symbol!r}, a unit of {dimension}, belongs to another dimension already.")
        _entries[dimension.code] = dimension
        _by_symbol.update({unit.symbol: (dimension, unit) for unit in dimension.units})


def remove_dimension(code: str) -> None:
    """Remove a dimension from the table."""
    for unit in _entries.pop(code).units:
        del _by_symbol[unit.symbol]


def find_unit(symbol: str) -> tuple[Dimension, Unit] | None:
    """Return the dimension that a unit measures, with the unit; None for a symbol that is not in the table."""
    return _by_symbol.get(symbol)


def scale_dimensions() -> list[tuple[str, str]]:
    """Return what an instrument can measure, as (code, label)."""
    return [(code, DIMENSIONS[code].label) for code in UNITS]


def _spellings() -> dict[str, str]:
    return {word: unit.symbol for _, unit in _by_symbol.values() for word in (unit.symbol, *unit.spellings)}


def _names() -> tuple[tuple[str, str], ...]:
    pairs = ((name.lower(), code) for code in UNITS for name in (DIMENSIONS[code].name, *DIMENSIONS[code].also))
    return tuple(pair for pair in pairs if pair[0] != pair[1])


add_dimensions(by_code(read_tables("fleet.catalogue", "dimensions.toml", "dimension"), dimension_from).values())
USES: Mapping[str, Use] = by_code(read_tables("fleet.catalogue", "dimensions.toml", "use"), use_from)

# Units of instruments and plates by dimension; all units; other spellings of units and dimensions.
UNITS: Mapping[str, tuple[str, ...]] = Live(
    DIMENSIONS, lambda dimension: dimension.symbols, lambda dimension: not dimension.is_derived
)
ALL_UNITS: Sequence[str] = LiveList(lambda: tuple(dict.fromkeys(unit for units in UNITS.values() for unit in units)))
MEASURABLE: Sequence[str] = LiveList(lambda: tuple(UNITS))
UNIT_SPELLINGS: Sequence[tuple[str, str]] = LiveList(
    lambda: tuple((word, symbol) for word, symbol in _spellings().items() if word != symbol)
)
MEASURABLE_SPELLINGS: Sequence[tuple[str, str]] = LiveList(_names)
