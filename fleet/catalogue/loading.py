"""Read the catalogue's packaged TOML and check every key. The only module of the catalogue that reads files.

Plain Python: it may be used without Django.
"""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from types import MappingProxyType
from typing import Any, TypeVar

T = TypeVar("T")


class CatalogueError(ValueError):
    """A catalogue file has an invalid entry; the message names file, entry and what is accepted."""


class UnknownCode(LookupError):
    """A code that is not in the catalogue; the message lists the codes that are."""

    thing = "code"

    def __init__(self, code: str, accepted: Sequence[str]):
        self.code = code
        self.accepted = tuple(accepted)
        codes = ", ".join(self.accepted)
        super().__init__(f"There is no {self.thing} {code!r} in the catalogue. Accepted: {codes}.")


class UnknownFeature(UnknownCode):
    """No such safety feature."""

    thing = "feature"


class UnknownHazard(UnknownCode):
    """No such hazard."""

    thing = "hazard"


class UnknownGas(UnknownCode):
    """No such gas."""

    thing = "gas"


class UnknownAgent(UnknownCode):
    """No such agent."""

    thing = "agent"


class UnknownComponentKind(UnknownCode):
    """No such kind of component."""

    thing = "component kind"


class Basis(StrEnum):
    """How sure a source is: read, known from memory, computed from open data, or common practice."""

    SEEN = "seen"
    FROM_MEMORY = "from memory"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Source:
    """The source of an entry, its edition, and how sure it is."""

    title: str
    edition: str
    basis: Basis

    def __str__(self):
        edition = f", {self.edition}" if self.edition and self.edition not in self.title else ""
        doubt = f" ({self.basis})" if str(self.basis) != self.title else ""
        return f"{self.title}{edition}{doubt}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One TOML table; its methods return a checked value or raise CatalogueError."""

    file: str
    number: int
    table: Mapping[str, Any]

    @property
    def place(self) -> str:
        return f"{self.file}, entry {self.number} ({self.table.get('code', 'no code')})"

    def refuse(self, problem: str) -> CatalogueError:
        """Return an error that names this entry, for the caller to raise."""
        return CatalogueError(f"{self.place}: {problem}")

    def check_keys(self, accepted: Sequence[str]) -> None:
        """Refuse unknown keys: most are spelling mistakes."""
        unknown = sorted(set(self.table) - set(accepted))
        if unknown:
            raise self.refuse(f"unknown key {', '.join(unknown)}. Accepted: {', '.join(accepted)}.")

    def get(self, key: str, kind: type | tuple[type, ...]) -> Any:
        if key not in self.table:
            raise self.refuse(f"{key} is missing.")
        value = self.table[key]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            name = kind.__name__ if isinstance(kind, type) else " or ".join(each.__name__ for each in kind)
            raise self.refuse(f"{key} must be {name}, not {value!r}.")
        return value

    def text(self, key: str, *, may_be_empty: bool = False) -> str:
        value = self.get(key, str).strip()
        if not value and not may_be_empty:
            raise self.refuse(f"{key} is empty; write at least one word.")
        return value

    def number_in(self, key: str, low: float, high: float) -> float:
        value = float(self.get(key, (int, float)))
        if not low <= value <= high:
            raise self.refuse(f"{key} is {value:g}; accepted {low:g} to {high:g}.")
        return value

    def truth(self, key: str) -> bool:
        return self.get(key, bool)

    def texts(self, key: str) -> tuple[str, ...]:
        values = self.get(key, list)
        if not all(isinstance(value, str) for value in values):
            raise self.refuse(f"{key} must be a list of texts, not {values!r}.")
        return tuple(values)

    def choice(self, key: str, choices: type[StrEnum]) -> Any:
        return self.one_of(key, self.text(key), choices)

    def choices(self, key: str, choices: type[StrEnum]) -> tuple[Any, ...]:
        return tuple(self.one_of(key, value, choices) for value in self.texts(key))

    def one_of(self, key: str, value: str, choices: type[StrEnum]) -> Any:
        try:
            return choices(value)
        except ValueError:
            raise self.refuse(f"{key} is {value!r}; accepted: {', '.join(choices)}.") from None

    def codes(self, key: str, accepted: Sequence[str]) -> tuple[str, ...]:
        values = self.texts(key)
        for value in values:
            if value not in accepted:
                raise self.refuse(f"{key} names {value!r}; accepted: {', '.join(accepted)}.")
        return values

    def source(self, prefix: str = "") -> Source:
        """Return the entry's source; `edition` may be empty, `source` and `basis` may not."""
        return Source(
            title=self.text(f"{prefix}source"),
            edition=self.text(f"{prefix}edition", may_be_empty=True),
            basis=self.choice(f"{prefix}basis", Basis),
        )


def read_tables(package: str, file: str, key: str) -> tuple[Entry, ...]:
    """Return the [[key]] tables of a packaged TOML file in their order.

    Raises CatalogueError if the file is not valid TOML or has no such table.
    """
    try:
        data = tomllib.loads(files(package).joinpath(file).read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise CatalogueError(f"{file} is not valid TOML: {error}.") from error
    return tables_of(data, file, key)


def tables_of(data: Mapping[str, Any], file: str, key: str) -> tuple[Entry, ...]:
    """Return the [[key]] tables of parsed TOML as entries, numbered from 1."""
    tables = data.get(key)
    if not isinstance(tables, list) or not tables:
        raise CatalogueError(f"{file} has no [[{key}]] table; write one per entry.")
    return tuple(Entry(file, number, table) for number, table in enumerate(tables, start=1))


def by_code(entries: Sequence[Entry], build: Callable[[Entry], T]) -> Mapping[str, T]:
    """Return the result of `build` for each entry, by its code, in order. Refuse duplicate codes."""
    built: dict[str, T] = {}
    for entry in entries:
        code = entry.text("code")
        if code in built:
            raise entry.refuse(f"the code {code!r} is used by an earlier entry; choose another.")
        built[code] = build(entry)
    return MappingProxyType(built)
