"""Counts what is stored of each hazard of a cover table."""

from collections import Counter

from fleet.circuit.cover_rows import Status
from fleet.circuit.state import Likelihood
from fleet.models import CoverHazard

ORDER = tuple(Likelihood)


def hazard_rows(cover, table, closing):
    """Return a CoverHazard for every hazard of a table, in the order of the catalogue; not saved.

    Rows of latent failures are not counted, and the rows of one source of pollution count as one.
    """
    closed = {(gap.hazard, gap.cause) for each in closing for gaps in each.closes.values() for gap in gaps}
    by_hazard = {}
    for row in table.first_rows:
        by_hazard.setdefault(row.hazard, []).append(row)
    return [_hazard(cover, code, rows, closed) for code, rows in by_hazard.items()]


def _hazard(cover, code, rows, closed):
    counts = Counter(row.status for row in rows)
    likely = [row for row in rows if row.status is Status.OPEN and row.cause.likelihood is not Likelihood.RARE]
    worst = worst_of(rows)
    return CoverHazard(
        cover=cover,
        hazard=code,
        open=counts[Status.OPEN],
        told=counts[Status.TOLD],
        stopped=counts[Status.STOPPED],
        likely=len(likely),
        closable=sum(_is_closed(row, closed) for row in likely),
        worst=worst.cause.title[:300] if worst else "",
        worst_likelihood=str(worst.cause.likelihood) if worst else "",
    )


def _is_closed(row, closed):
    """Return whether a feature closes an open row, or every open row that it stands for."""
    inside = [each for each in row.beneath if each.status is Status.OPEN] or [row]
    return all((row.hazard, each.cause.code) in closed for each in inside)


def worst_of(rows):
    """Return the open row with the most likely cause, the first of equals; None if none is open."""
    still = [row for row in rows if row.status is Status.OPEN]
    return min(still, key=lambda row: ORDER.index(row.cause.likelihood), default=None)
