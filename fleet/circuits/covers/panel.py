"""The section of a machine's page on what its gas circuit leaves open."""

from dataclasses import dataclass

from fleet.catalogue import HAZARDS
from fleet.circuits.covers.closing_features import closers_of
from fleet.circuits.covers.rows_in_words import read_closing
from fleet.circuits.covers.validity import standing_of
from fleet.models import CoverHazard, MachineCover


@dataclass(frozen=True, slots=True)
class OpenHazardLine:
    """An open hazard of a machine: its open causes, the most likely one, and what would close it."""

    code: str
    name: str
    open: int
    rare: int
    worst: str
    worst_likelihood: str
    closing: str


def cover_panel(machine, found):
    """What the machine's circuit leaves open, and where circuit and record differ; `found` is today's circuit."""
    kept = MachineCover.objects.filter(machine=machine).select_related("cover").defer("cover__table").first()
    context = {
        "machine": machine,
        "kept": kept,
        "hazards": open_hazard_lines(kept),
        "standing": standing_of(machine, kept, found),
    }
    return "fleet/_machine_circuit_cover.html", context


def open_hazard_lines(kept):
    """Return the open hazards of a MachineCover, in the order of the catalogue; one query."""
    if kept is None or kept.cover is None:
        return []
    closing = read_closing(kept.cover)
    rows = CoverHazard.objects.filter(cover=kept.cover, open__gt=0)
    return [
        OpenHazardLine(
            row.hazard,
            HAZARDS[row.hazard].name,
            row.open,
            row.rare,
            row.worst,
            row.worst_likelihood,
            closers_of(row.hazard, closing),
        )
        for row in rows
    ]
