"""Circuits as TOML files: read with every problem told at once, and written back.

    title = "Plain three-gas machine"
    fittings = ["pin-index", "breathing-connectors"]

    [[part]]
    code = "oxygen-regulator"
    kind = "pressure-regulator"
    label = "Oxygen regulator"
    gas = "oxygen"
    values = { output_pressure = [45, "psi"] }
    options = {}

    [[joint]]
    from = "oxygen-yoke.out"
    to = "oxygen-regulator.in"
    size = ""

Or shorter, and the same to TOML, one line for each: part = [ { code = "oxygen-regulator", ... }, ... ], joint likewise.
A value is a number and its unit; pressures are gauge. Part kinds, their ports and rated values are those of
fleet/catalogue/components.toml; further values and options are those of the kind's element (fleet/circuit/elements/).
"""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fleet.catalogue import COMPONENT_KINDS, FEATURES
from fleet.circuit.file_component import part_from
from fleet.circuit.file_table import CircuitFileError, Place, Table, table_lines
from fleet.circuit.file_text import write_circuit
from fleet.circuit.network import MOST_JOINTS, MOST_PARTS, Problem
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Joint, Part, Port

__all__ = ["CircuitFileError", "Problem", "read_circuit", "write_circuit"]

TOP_KEYS = ("title", "code", "fittings", "ambient_pressure", "part", "joint")
JOINT_KEYS = ("from", "to", "size")
LONGEST_TEXT = 100_000  # characters; a circuit of forty parts has about 10,000
LONGEST_LINE = 5_000  # a dotted key takes time with the square of its length
MOST_LEVELS = 8  # of tables and lists within each other; a circuit needs four


def read_circuit(text: str, *, title: str = "") -> Circuit:
    """Return the circuit that a TOML text describes.

    title  stands in where the text names none
    Raises CircuitFileError with every problem: TOML that is none, and kinds, ports, keys, units, options and codes that
    are not known, or used twice. Whether the parts make a circuit that works is asked by network.check_circuit.
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
    """One reading; what cannot be accepted is kept in `problems`, and the rest is read on."""

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
        parts = self._parts()
        return Circuit(code, title, parts, self._joints(parts), frozenset(fittings), ambient or STANDARD_PA_ABS)

    def _parts(self) -> tuple[Part, ...]:
        parts, seen = [], {}
        for table in self._tables("part"):
            code = table.data.get("code")
            table.place = table.place.named(code)
            for key, shown in (("code", code), ("label", table.data.get("label"))):
                if isinstance(shown, str) and seen.setdefault((key, shown), table.place) is not table.place:
                    table.refuse(f"{key} {shown!r} is taken by {seen[key, shown]}; choose another.")
            parts.append(part_from(table))
        if not parts and "part" not in self.data:
            self.problems.append(
                Place("the file").problem("holds no [[part]]; write one for each part of the circuit.")
            )
        return tuple(part for part in parts if part is not None)

    def _joints(self, parts: Sequence[Part]) -> tuple[Joint, ...]:
        kinds = {table["code"]: table.get("kind") for table in self._raw("part") if isinstance(table.get("code"), str)}
        joints, seen = [], {}
        for table in self._tables("joint"):
            table.check_keys(JOINT_KEYS)
            source, target = (_port(table, key, kinds) for key in ("from", "to"))
            joint = Joint(source, target, table.text("size", default=""))
            if source is not None and source == target:
                table.refuse(f"joins {source} to itself; name two ports.")
            elif source and target and seen.setdefault(frozenset((source, target)), table.place) is not table.place:
                table.refuse(f"joins {joint} again, after {seen[frozenset((source, target))]}; leave one out.")
            joints.append(joint)
        return tuple(joints)

    def _raw(self, key: str) -> list[Mapping[str, Any]]:
        tables = self.data.get(key, [])
        return [table for table in tables if isinstance(table, dict)] if isinstance(tables, list) else []

    def _tables(self, key: str) -> list[Table]:
        tables, file = self.data.get(key, []), Place("the file")
        if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
            self.problems.append(file.problem(f"{key} must be tables, each headed [[{key}]]."))
            return []
        most = MOST_PARTS if key == "part" else MOST_JOINTS
        if len(tables) > most:
            self.problems.append(file.problem(f"holds {len(tables)} [[{key}]]; accepted: {most} at most."))
            return []
        lines = table_lines(self.text, key, len(tables))
        return [
            Table(Place(f"{key} {number}", line=line), table, self.problems)
            for number, (table, line) in enumerate(zip(tables, lines, strict=True), start=1)
        ]


def _port(table: Table, key: str, kinds: Mapping[str, str]) -> Port | None:
    """Return the port that a joint names as "part.port", or None with the problem told."""
    text = table.text(key)
    if not text:
        return None
    code, dot, name = text.rpartition(".")
    if not dot:
        return table.refuse(f"{key} is {text!r}; write the part's code, a dot and the port, such as 'outlet.in'.")
    if code not in kinds:
        return table.refuse(f"{key} names the part {code!r}, which is not here. Accepted: {_listed(kinds)}.")
    kind = COMPONENT_KINDS.get(kinds[code]) if isinstance(kinds[code], str) else None
    if kind is not None and name not in kind.ports:
        return table.refuse(f"{key} names the port {name!r} of {code!r}. Accepted: {_listed(kind.ports)}.")
    return Port(code, name)


def _listed(words: Iterable[str]) -> str:
    words = list(words)
    return ", ".join(words[:60]) + (" ..." if len(words) > 60 else "") or "none, it has no port"
