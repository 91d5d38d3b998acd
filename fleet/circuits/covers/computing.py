"""Computes what is stored of a circuit: its cover table, the safety features it shows, and the closing sets.

Plain Python, for a process without the store as well.
"""

from dataclasses import dataclass
from time import perf_counter

from fleet.circuit.as_found import as_if_sound
from fleet.circuit.closing import closing_sets
from fleet.circuit.cover import cover_table
from fleet.circuit.cover_rows import CoverTable
from fleet.circuit.derived_features import derived_features
from fleet.work_progress import tell_nobody


@dataclass(frozen=True, slots=True)
class Computed:
    """`seconds` is the computing time."""

    table: CoverTable
    shown: dict
    closing: tuple
    seconds: float


def compute(circuit, tell=tell_nobody):
    """Return all results for a circuit that can be solved.

    tell  function of done, total and words, called often; an exception from it ends the computation
    """
    started = perf_counter()
    table = cover_table(circuit, progress=lambda done, total: tell(done, total, "causes"))
    shown = derived_features(as_if_sound(circuit))  # a component that failed is still fitted
    closing = closing_sets(circuit, table)
    return Computed(table, shown, closing, perf_counter() - started)
