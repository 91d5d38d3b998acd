"""The demonstration's circuits, read once, and what tests of causes and cover ask of them."""

from dataclasses import replace
from functools import cache
from pathlib import Path

from fleet.circuit.causes import causes_of
from fleet.circuit.closing import with_feature
from fleet.circuit.cover_rows import Cause, CoverRow
from fleet.circuit.cover_sheet import CoverSheet
from fleet.circuit.files import read_circuit
from fleet.circuit.structure import Circuit

FOLDER = Path(__file__).resolve().parents[3] / "config" / "demo" / "circuits"
NAMES = tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))
OLDEST, NEWEST = "norrfell-3", "ostler-octavo"
OXYGEN_SHUT = "oxygen-shut-nitrous-oxide-on"


@cache
def machine(name: str = OLDEST, *features: str) -> Circuit:
    """Return a circuit of the demonstration, with features fitted to it."""
    circuit = read_circuit((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    for feature in features:
        circuit = with_feature(circuit, feature)
        assert circuit is not None, f"{name} has no place for {feature}"
    return circuit


@cache
def sheet(name: str = OLDEST, *features: str) -> CoverSheet:
    return CoverSheet(machine(name, *features))


@cache
def causes_by_code(name: str, *features: str) -> dict[str, Cause]:
    return {cause.code: cause for cause in causes_of(machine(name, *features))}


def cause(code: str, name: str = OLDEST, *features: str) -> Cause:
    return causes_by_code(name, *features)[code]


def rows(code: str, name: str = OLDEST, *features: str) -> dict[str, CoverRow]:
    """Return the rows of one cause by hazard."""
    return {row.hazard: row for row in sheet(name, *features).rows(cause(code, name, *features))}


def unfitted(circuit: Circuit, *codes: str) -> Circuit:
    return replace(circuit, fittings=circuit.fittings - set(codes))
