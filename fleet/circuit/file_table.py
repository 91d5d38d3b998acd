"""Reads one table of a circuit file: returns checked values, and records problems with what would be accepted."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any
from unicodedata import category

from fleet.catalogue.plausibility import rated_problem
from fleet.circuit.network import Problem
from fleet.circuit.units import ALL_UNITS, UNITS_BY_DIMENSION, to_si

SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
LONGEST_CODE = 50
LONGEST_LINE = 120
NO_LINE = ("Cc", "Cs", "Zl", "Zp")  # Unicode: controls, surrogates, line and paragraph separators


class CircuitFileError(ValueError):
    """A circuit file that cannot be accepted, with all its problems."""

    def __init__(self, problems: tuple[Problem, ...]):
        self.problems = problems
        super().__init__("\n".join(map(str, problems)))


@dataclass(frozen=True, slots=True)
class Place:
    """A place in a file: the table by number, its code, its line. The line is None if unknown."""

    table: str
    code: str = ""
    line: int | None = None

    def __str__(self):
        code = f" ({self.code})" if self.code else ""
        return f"{self.table}{code}" + (f", line {self.line}" if self.line else "")

    def named(self, code: Any) -> "Place":
        """Return the place with the code of its component, if that is a text."""
        return Place(self.table, code[:LONGEST_CODE] if isinstance(code, str) else "", self.line)

    def problem(self, message: str) -> Problem:
        return Problem(str(self), message)


@dataclass
class Table:
    """A TOML table; each method returns a checked value, or records a problem and returns an empty value."""

    place: Place
    data: Mapping[str, Any]
    problems: list[Problem]

    def refuse(self, message: str) -> None:
        self.problems.append(self.place.problem(message))

    def check_keys(self, accepted: tuple[str, ...]) -> None:
        """Refuse unknown keys: most are spelling mistakes."""
        for key in self.data:
            if key not in accepted:
                self.refuse(f"{key!r} is not a known key. Accepted: {', '.join(accepted)}.")

    def text(self, key: str, *, default: str | None = None) -> str:
        """Return one line of text; without a default it is required and must not be empty."""
        value = self.data.get(key, default)
        if value is None:
            self.refuse(f"{key} is missing.")
        elif not isinstance(value, str):
            self.refuse(f"{key} is {value!r}; write a text in quotes.")
        elif not value.strip() and default is None:
            self.refuse(f"{key} is empty; write at least one word.")
        elif len(value) > LONGEST_LINE or any(category(letter) in NO_LINE for letter in value):
            self.refuse(f"{key} must be one line of at most {LONGEST_LINE} characters.")
        else:
            return value.strip()
        return ""

    def slug(self, key: str, *, default: str | None = None) -> str:
        """Return a code: small letters, digits and single hyphens."""
        value = self.text(key, default=default)
        if value and (not SLUG.fullmatch(value) or len(value) > LONGEST_CODE):
            self.refuse(
                f"{key} is {value!r}; write small letters, digits and single hyphens, {LONGEST_CODE} at most, "
                "such as 'oxygen-regulator'."
            )
        return value

    def choice(self, key: str, accepted: Iterable[str], what: str) -> str:
        """Return one of the accepted words, or "" after recording the problem."""
        value = self.text(key)
        if value and value not in accepted:
            self.refuse(f"{value!r} is not a {what}. Accepted: {', '.join(accepted)}.")
            return ""
        return value

    def codes(self, key: str, accepted: Iterable[str]) -> tuple[str, ...]:
        """Return a list of accepted words; an absent key is an empty list."""
        values = self.data.get(key, [])
        if not isinstance(values, list):
            self.refuse(f"{key} is {values!r}; write a list of codes in square brackets.")
            return ()
        for number, value in enumerate(values):
            if value not in tuple(accepted):
                self.refuse(f"{key} names {value!r}. Accepted: {', '.join(accepted)}.")
            elif value in values[:number]:
                self.refuse(f"{key} names {value!r} twice; remove one.")
        return tuple(value for value in values if isinstance(value, str))

    def inner(self, key: str) -> "Table":
        """Return an inner table such as values; an absent one is empty."""
        inner = self.data.get(key, {})
        if not isinstance(inner, dict):
            self.refuse(f"{key} is {inner!r}; write keys and values in curly brackets.")
            inner = {}
        return Table(self.place, inner, self.problems)

    def quantity(self, key: str, dimension: str) -> float | None:
        """Return a number with its unit in SI, or None after recording the problem. `dimension` empty: any unit."""
        given, units = self.data[key], UNITS_BY_DIMENSION.get(dimension, ALL_UNITS)
        is_pair = isinstance(given, list) and len(given) == 2
        if not is_pair or isinstance(given[0], bool) or not isinstance(given[0], (int, float)):
            return self.refuse(f'{key} is {given!r}; write number and unit, such as {key} = [1, "{units[0]}"].')
        number, unit = given
        if unit not in units:
            return self.refuse(f"{key} has the unit {unit!r}. Accepted: {', '.join(units)}.")
        return self._bounded(key, number, unit, dimension)

    def _bounded(self, key: str, number: float, unit: str, dimension: str) -> float | None:
        try:
            value = float(number)
        except OverflowError:
            return self.refuse(f"{key} is a number of {len(str(number))} digits; write a smaller one.")
        if not isfinite(value):
            return self.refuse(f"{key} is {value} {unit}; write a finite number.")
        if dimension == "fraction" and to_si(value, unit) > 1:
            return self.refuse(f"{key} is {value:g} {unit}; a fraction is at most 100 %.")
        if dimension and (problem := rated_problem(value, dimension, unit)):
            return self.refuse(f"{key} is {value:g} {unit}; accepted: {problem.accepted}.")
        return to_si(value, unit)


def table_lines(text: str, key: str, count: int) -> list[int | None]:
    """Return the line on which each of the `count` tables of a key begins: its [[key]], or its { in `key = [`.

    All None if the lines cannot be told apart, for example with several tables on one line.
    """
    opens, inside, lines = re.compile(rf"\s*{key}\s*=\s*\["), False, []
    header = re.compile(rf"\s*\[\[\s*{key}\s*\]\]")
    for number, line in enumerate(text.splitlines(), start=1):
        inside = bool(opens.match(line)) or (inside and not line.lstrip().startswith("]"))
        if header.match(line) or (inside and line.lstrip().startswith("{")):
            lines.append(number)
    return list(lines) if len(lines) == count else [None] * count
