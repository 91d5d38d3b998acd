"""Computes the cover table: for every cause its possible hazards, and what stops or alarms each, if anything."""

from collections.abc import Callable, Sequence

from fleet.catalogue import HAZARDS
from fleet.circuit.as_found import as_if_sound, worse_rows
from fleet.circuit.causes import causes_of
from fleet.circuit.collection import no_collection
from fleet.circuit.cover_rows import Cause, CoverRow, CoverTable, Status, Unsolved
from fleet.circuit.cover_sheet import CoverSheet, order_of
from fleet.circuit.digest import circuit_digest
from fleet.circuit.incidents import rows_not_judged
from fleet.circuit.locations import breathing_components
from fleet.circuit.pollution_sources import folded
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit

Progress = Callable[[int, int], None]

MOST_AT_ONCE = 400  # causes that are solved at once

_LIKELIHOOD_ORDER = tuple(Likelihood)


def cover_table(
    circuit: Circuit, *, causes: Sequence[Cause] | None = None, progress: Progress | None = None
) -> CoverTable:
    """Return the cover table of a circuit.

    causes    default: every single cause; give pairs_of(circuit) for pairs
    progress  called with (causes done, causes in all)

    A row is a hazard that a cause leads to on the machine as it is, or would lead to without any safety feature.
    Hazards of ordinary use are not repeated for every cause, nor hazards of one cause for a pair that contains it.
    Raises NoSolution if ordinary use has none.
    """
    chosen = causes_of(circuit) if causes is None else tuple(causes)
    sound = as_if_sound(circuit)
    sheets = [CoverSheet(each) for each in ((circuit,) if sound is circuit else (circuit, sound))]
    rows, unsolved = [], []
    for first in range(0, len(chosen), MOST_AT_ONCE):
        with no_collection():
            some, failed = _rows_of(sheets, chosen[first : first + MOST_AT_ONCE])
        rows, unsolved = [*rows, *some], [*unsolved, *failed]
        for number in range(first, min(first + MOST_AT_ONCE, len(chosen))) if progress else ():
            progress(number + 1, len(chosen))
    rows = folded(rows, circuit, breathing_components(circuit))
    if causes is None:
        rows += rows_not_judged(circuit, sheets[0].ordinary_state)
    return CoverTable(
        circuit=circuit.title,
        digest=circuit_digest(circuit),
        causes=len(chosen),
        rows=tuple(sorted(rows, key=_rank)),
        unsolved=tuple(unsolved),
    )


def _rows_of(sheets: Sequence[CoverSheet], causes: Sequence[Cause]) -> tuple[list[CoverRow], list[Unsolved]]:
    """Return the rows of some causes with those of latent failures, and the causes without a solution.

    Of a circuit with failed results the worse rows.
    """
    rows, unsolved = [], []
    usual = {hazard for sheet in sheets for hazard in sheet.ordinary.hazards}
    for sheet in sheets:
        sheet.prepare(causes)
    for cause in causes:
        try:
            found = worse_rows(sheet.rows_at_all_points(cause) for sheet in sheets)
            rows.append([row for row in found if row.status is not Status.STOPPED or row.hazard not in usual])
        except NoSolution as error:
            unsolved.append(Unsolved(cause, str(error)))
    sheets[0].prepare_latent([row for found in rows for row in found])
    return [
        each for found in rows for each in (*found, *(latent for row in found for latent in sheets[0].latent_rows(row)))
    ], unsolved


def _rank(row: CoverRow):
    order = list(HAZARDS)
    return (
        order.index(row.hazard),
        bool(row.cause.latent),
        order_of(row.status),
        _LIKELIHOOD_ORDER.index(row.cause.likelihood),
        row.cause.title,
        row.cause.code,
    )
