"""Covers that come with the program: those of the kinds of machine of the kit and of the demonstration.

Each circuit has a file named by its digest: JSON, compressed, to be read with `xzcat`. It is used only if this program
would compute the same. The command `shipped_covers` writes it; the tests compute it again and compare.
"""

import json
import lzma
from collections.abc import Mapping
from pathlib import Path
from time import perf_counter
from typing import Any

from fleet.circuit.serialise import closing_from_dict, table_from_dict
from fleet.circuit.structure import Circuit
from fleet.circuits.covers.circuit_as_json import circuit_from_dict
from fleet.circuits.covers.computing import Computed
from fleet.circuits.covers.derived_as_json import shown_from_dict
from fleet.circuits.covers.program_digest import rules

FOLDER, ENDING = Path(__file__).with_name("shipped"), ".json.xz"


def shipped_cover(digest: str) -> Computed | None:
    """Return what comes with the program for the circuit of this digest; None if nothing does, or if it is outdated."""
    started, path = perf_counter(), FOLDER / f"{digest}{ENDING}"
    if not path.is_file():
        return None
    said = read_shipped(path)
    return computed_of(said, perf_counter() - started) if said["rules"] == rules() else None


def read_shipped(path: Path) -> dict[str, Any]:
    return json.loads(lzma.decompress(path.read_bytes()))


def computed_of(said: Mapping[str, Any], seconds: float) -> Computed:
    """Return the cover that a file states."""
    return Computed(
        table_from_dict(said["table"]), shown_from_dict(said["shown"]), closing_from_dict(said["closing"]), seconds
    )


def circuit_of_shipped(said: Mapping[str, Any]) -> Circuit:
    """Return the circuit of a file."""
    return circuit_from_dict(said["circuit"], code="shipped", title=said["title"])
