"""Circuits as TOML files: read, with all problems reported at once, and written.

    title = "Plain three-gas machine"
    fittings = ["pin-index", "breathing-connectors"]

    [[component]]
    code = "oxygen-regulator"
    kind = "pressure-regulator"
    label = "Oxygen regulator"
    gas = "oxygen"
    values = { output_pressure = [45, "psi"] }
    options = {}

    [[connection]]
    from = "oxygen-yoke.out"
    to = "oxygen-regulator.in"
    size = ""

A shorter form with the same meaning has one line for each: component = [ { code = "oxygen-regulator", ... }, ... ] and
connection = [ ... ]. The older words `component` and `connection` mean the same and are still accepted.
`write_circuit` writes
the older words, so that earlier releases can read its files. A value is a number and its unit; pressures are gauge.
Component kinds, their ports and rated values are those of fleet/catalogue/components.toml; further values and options
are those of the kind's element (fleet/circuit/elements/).
"""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fleet.catalogue import COMPONENT_KINDS, FEATURES
from fleet.circuit.file_component import component_from
from fleet.circuit.file_table import CircuitFileError, Place, Table, table_lines
from fleet.circuit.file_text import write_circuit
from fleet.circuit.network import MOST_CONNECTIONS, MOST_COMPONENTS, Problem
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Connection, Component, Port

__all__ = ["CircuitFileError", "Problem", "read_circuit", "write_circuit"]

COMPONENT_WORDS = ("component", "part")  # the current word and the older one
CONNECTION_WORDS = ("connection", "joint")
TOP_KEYS = ("title", "code", "fittings", "ambient_pressure", *COMPONENT_WORDS, *CONNECTION_WORDS)
CONNECTION_KEYS = ("from", "to", "size")
LONGEST_TEXT = 100_000  # characters; a circuit of forty components has about 10,000
LONGEST_LINE = 5_000  # a dotted key takes time with the square of its length
MOST_LEVELS = 8  # of nested tables and lists; a circuit needs four


def read_circuit(text: str, *, title: str = "") -> Circuit:
    """Return the circuit that a TOML text describes.

    title  used if the text has none
    Raises CircuitFileError with every problem: invalid TOML, and kinds, ports, keys, units, options and codes that are
    unknown or used twice. network.check_circuit checks whether the components make a circuit that can be solved.
    """
    reading = _Reading(_data(text), text, title)
    circuit = reading.circuit()
    if reading.problems:
        raise CircuitFileError(tuple(reading.problems))
    return circuit


def _data(text: str) -> Mapping[str, Any]:
    file = Place("the file")
    if len(text) > LONGEST_TEXT:
        raise CircuitFileError((file.problem(f"has {len(text)} characters; accepted: {LONGEST_TEXT} at most."),))
    if any(len(line) > LONGEST_LINE for line in text.splitlines()):
        raise CircuitFileError((file.problem(f"has a line of more than {LONGEST_LINE} characters; break it up."),))
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        reason = "it is nested too deeply" if isinstance(error, RecursionError) else str(error).rstrip(".")
        raise CircuitFileError((file.problem(f"is not valid TOML: {reason}."),)) from None
    if levels_of(data, MOST_LEVELS) > MOST_LEVELS:
        raise CircuitFileError((file.problem(f"is nested more than {MOST_LEVELS} levels deep."),))
    return data


def levels_of(data: Any, most: int) -> int:
    """Return how deep tables and lists are nested, `most` + 1 for anything deeper. Without recursion."""
    level, depth = [data], 0
    while level and depth <= most:
        inner = (value.values() if isinstance(value, dict) else value for value in level)
        level = [one for values in inner for one in values if isinstance(one, (dict, list))]
        depth += 1
    return depth


@dataclass
class _Reading:
    """One file being read; collects what cannot be accepted in `problems` and goes on reading."""

    data: Mapping[str, Any]
    text: str
    title: str
    problems: list[Problem] = field(default_factory=list)

    def circuit(self) -> Circuit:
        top = Table(Place("the file"), self.data, self.problems)
        top.check_keys(TOP_KEYS)
        title = top.text("title", default=self.title) or "Circuit"
        code = top.slug("code", default="circuit")
        ambient = top.quantity("ambient_pressure", "pressure") if "ambient_pressure" in self.data else STANDARD_PA_ABS
        fittings = top.codes("fittings", FEATURES)
        components = self._components()
        return Circuit(code, title, components, self._connections(components), frozenset(fittings), ambient or STANDARD_PA_ABS)

    def _components(self) -> tuple[Component, ...]:
        components, seen = [], {}
        for table in self._tables(COMPONENT_WORDS, MOST_COMPONENTS):
            code = table.data.get("code")
            table.place = table.place.named(code)
            for key, shown in (("code", code), ("label", table.data.get("label"))):
                if isinstance(shown, str) and seen.setdefault((key, shown), table.place) is not table.place:
                    table.refuse(f"{key} {shown!r} is already used by {seen[key, shown]}; choose another.")
            components.append(component_from(table))
        if not components and not any(word in self.data for word in COMPONENT_WORDS):
            self.problems.append(
                Place("the file").problem("has no [[component]]; write one for each component of the circuit.")
            )
        return tuple(component for component in components if component is not None)

    def _connections(self, components: Sequence[Component]) -> tuple[Connection, ...]:
        kinds = {
            table["code"]: table.get("kind") for table in self._raw(COMPONENT_WORDS) if isinstance(table.get("code"), str)
        }
        connections, seen = [], {}
        for table in self._tables(CONNECTION_WORDS, MOST_CONNECTIONS):
            table.check_keys(CONNECTION_KEYS)
            source, target = (_port(table, key, kinds) for key in ("from", "to"))
            connection = Connection(source, target, table.text("size", default=""))
            if source is not None and source == target:
                table.refuse(f"connects {source} to itself; name two ports.")
            elif source and target and seen.setdefault(frozenset((source, target)), table.place) is not table.place:
                table.refuse(f"connects {connection} again, after {seen[frozenset((source, target))]}; remove one.")
            connections.append(connection)
        return tuple(connections)

    def _raw(self, words: Iterable[str]) -> list[Mapping[str, Any]]:
        lists = [tables for word in words if isinstance(tables := self.data.get(word), list)]
        return [table for tables in lists for table in tables if isinstance(table, dict)]

    def _tables(self, words: Iterable[str], most: int) -> list[Table]:
        tables = [table for word in words for table in self._tables_of(word, most)]
        if len(tables) <= most:
            return tables
        used = " and ".join(f"[[{word}]]" for word in words if word in self.data)
        self.problems.append(Place("the file").problem(f"has {len(tables)} {used}; accepted: {most} at most."))
        return []

    def _tables_of(self, key: str, most: int) -> list[Table]:
        tables, file = self.data.get(key, []), Place("the file")
        if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
            self.problems.append(file.problem(f"{key} must be tables, each headed [[{key}]]."))
            return []
        lines = table_lines(self.text, key, len(tables)) if len(tables) <= most else [None] * len(tables)
        return [
            Table(Place(f"{key} {number}", line=line), table, self.problems)
            for number, (table, line) in enumerate(zip(tables, lines, strict=True), start=1)
        ]


def _port(table: Table, key: str, kinds: Mapping[str, str]) -> Port | None:
    """Return the port that a connection names as "component.port", or None after recording the problem."""
    text = table.text(key)
    if not text:
        return None
    code, dot, name = text.rpartition(".")
    if not dot:
        return table.refuse(f"{key} is {text!r}; write the component's code, a dot and the port, such as 'outlet.in'.")
    if code not in kinds:
        return table.refuse(
            f"{key} names the component {code!r}, which is not in the file. Accepted: {_listed(kinds)}."
        )
    kind = COMPONENT_KINDS.get(kinds[code]) if isinstance(kinds[code], str) else None
    if kind is not None and name not in kind.ports:
        return table.refuse(f"{key} names the port {name!r} of {code!r}. Accepted: {_listed(kind.ports)}.")
    return Port(code, name)


def _listed(words: Iterable[str]) -> str:
    words = list(words)
    return ", ".join(words[:60]) + (" ..." if len(words) > 60 else "") or "none, it has no port"
