"""Kinds of component in the gas path and around it, from components.toml."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue.dimensions import UNITS
from fleet.catalogue.features import FEATURES
from fleet.catalogue.loading import CatalogueError, Entry, Source, UnknownComponentKind, by_code, read_tables


class GasRule(StrEnum):
    """Whether a component of the kind must state its gas."""

    REQUIRED = "required"
    OPTIONAL = "optional"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class RatedValue:
    """A value from the rating plate or the manufacturer's documents: pressures are gauge; `unit` is shown first."""

    key: str
    label: str
    dimension: str
    unit: str


@dataclass(frozen=True, slots=True)
class ComponentKind:
    """One kind of component: its ports, its rated values, and the safety features of which it is evidence."""

    code: str
    name: str
    does: str
    ports: tuple[str, ...]
    gas: GasRule
    rated: tuple[RatedValue, ...]
    evidences: tuple[str, ...]
    source: Source

    def __str__(self):
        return self.name

    @property
    def needs_gas(self) -> bool:
        return self.gas is GasRule.REQUIRED

    def rated_value(self, key: str) -> RatedValue:
        """Return the rated value of that key. Raises CatalogueError, which lists the keys."""
        for value in self.rated:
            if value.key == key:
                return value
        keys = ", ".join(value.key for value in self.rated) or "none"
        raise CatalogueError(f"{self.name} has no rated value {key!r}. Accepted: {keys}.")


def get_component_kind(code: str) -> ComponentKind:
    """Return the kind of that code, or raise UnknownComponentKind, which lists the codes."""
    if code not in COMPONENT_KINDS:
        raise UnknownComponentKind(code, tuple(COMPONENT_KINDS))
    return COMPONENT_KINDS[code]


KIND_KEYS = ("code", "name", "does", "ports", "gas", "rated", "evidences", "source", "edition", "basis")


def rated_from(entry: Entry, table: Mapping[str, str]) -> RatedValue:
    """Return one rated value of a kind, or raise CatalogueError for an unknown key, dimension or unit."""
    if not isinstance(table, dict) or set(table) != {"key", "label", "dimension", "unit"}:
        raise entry.refuse(f"rated must hold tables of key, label, dimension and unit, not {table!r}.")
    if table["dimension"] not in UNITS:
        raise entry.refuse(f"dimension is {table['dimension']!r}; accepted: {', '.join(UNITS)}.")
    units = UNITS[table["dimension"]]
    if table["unit"] not in units:
        raise entry.refuse(f"unit of {table['key']} is {table['unit']!r}; accepted: {', '.join(units)}.")
    return RatedValue(**table)


def kind_from(entry: Entry) -> ComponentKind:
    """Return the component kind that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(KIND_KEYS)
    rated = tuple(rated_from(entry, table) for table in entry.get("rated", list))
    if len({value.key for value in rated}) != len(rated):
        raise entry.refuse("rated has the same key twice; choose another.")
    return ComponentKind(
        code=entry.text("code"),
        name=entry.text("name"),
        does=entry.text("does"),
        ports=entry.texts("ports"),
        gas=entry.choice("gas", GasRule),
        rated=rated,
        evidences=entry.codes("evidences", tuple(FEATURES)),
        source=entry.source(),
    )


COMPONENT_KINDS: Mapping[str, ComponentKind] = by_code(
    read_tables("fleet.catalogue", "components.toml", "kind"), kind_from
)
