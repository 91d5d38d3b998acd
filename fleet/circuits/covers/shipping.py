"""Writes the covers that come with the program."""

import json
import lzma
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from fleet.circuit.digest import circuit_digest
from fleet.circuit.files import read_circuit
from fleet.circuit.kit import MACHINE_KINDS, start_of
from fleet.circuit.serialise import closing_to_dict, table_to_dict
from fleet.circuit.structure import Circuit
from fleet.circuits.covers.circuit_as_json import circuit_to_dict
from fleet.circuits.covers.computing import Computed
from fleet.circuits.covers.derived_as_json import shown_to_dict
from fleet.circuits.covers.program_digest import rules
from fleet.circuits.covers.sharing import with_what_counts
from fleet.circuits.covers.shipped import ENDING, FOLDER, circuit_of_shipped, read_shipped

DIGITS = 11  # of figures; a solution is exact to nine
BY_LINE = ("causes", "rows")  # lists of a table that stand one entry to a line


def circuits_of_the_kit() -> list[Circuit]:
    """Return the circuit of a new machine of each kind of the kit, as covers use it."""
    return [_new(kind) for kind in MACHINE_KINDS.values()]


def _new(kind) -> Circuit:
    start = start_of(kind, title=kind.name)
    fitted = frozenset(code for code, state in start.features.items() if state == "fitted")
    circuit = read_circuit(start.circuit, title=kind.name)
    return with_what_counts(Circuit(kind.code, kind.name, circuit.components, circuit.connections, fitted))


def shipped_files(folder: Path = FOLDER) -> list[Path]:
    return sorted(folder.glob(f"*{ENDING}"))


def circuits_shipped(folder: Path = FOLDER) -> list[Circuit]:
    """Return the circuits of the files that are there."""
    return [circuit_of_shipped(read_shipped(path)) for path in shipped_files(folder)]


def outdated(folder: Path = FOLDER) -> list[Path]:
    """Return the files that this program does not use."""
    return [path for path in shipped_files(folder) if read_shipped(path)["rules"] != rules()]


def write_shipped(circuit: Circuit, computed: Computed, folder: Path = FOLDER) -> Path:
    """Write the file of a circuit and return its path."""
    said = {
        "title": circuit.title,
        "rules": rules(),
        "circuit": circuit_to_dict(circuit),
        "shown": shown_to_dict(computed.shown),
        "closing": closing_to_dict(computed.closing),
        "table": rounded(table_to_dict(computed.table)),
    }
    path = folder / f"{circuit_digest(circuit)}{ENDING}"
    path.write_bytes(lzma.compress(_text(said).encode(), preset=9))
    return path


def remove_others(kept: Iterable[str], folder: Path = FOLDER) -> None:
    """Remove the files of circuits whose digests are not among those kept."""
    names = {f"{digest}{ENDING}" for digest in kept}
    for path in shipped_files(folder):
        if path.name not in names:
            path.unlink()


def rounded(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table whose figures have no digits beyond those that a solution is exact to."""
    return {**table, "rows": [_rounded_row(row) for row in table["rows"]]}


def _rounded_row(row: Mapping[str, Any]) -> dict[str, Any]:
    figures = {name: _rounded(row[name]) for name in ("figures", "without")}
    return {**row, **figures, "beneath": [_rounded_row(inside) for inside in row["beneath"]]}


def _rounded(told):
    if isinstance(told, Mapping):
        return {key: _rounded(value) for key, value in told.items()}
    return float(f"{told:.{DIGITS}g}") if isinstance(told, float) else told


def _text(said: Mapping[str, Any]) -> str:
    """Return JSON with one entry to a line where a reader would look for one."""
    table = ",\n".join(
        f"{_compact(key)}: {_lines(value) if key in BY_LINE else _compact(value)}"
        for key, value in said["table"].items()
    )
    rest = (f"{_compact(key)}: {_compact(value)}" for key, value in said.items() if key != "table")
    return "{\n" + ",\n".join([*rest, f'"table": {{\n{table}\n}}']) + "\n}\n"


def _lines(entries: Iterable[Any]) -> str:
    return "[\n" + ",\n".join(map(_compact, entries)) + "\n]"


def _compact(told: Any) -> str:
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
