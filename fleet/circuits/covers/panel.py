"""What a machine lacks, and what its gas circuit leaves open, in brief."""

from dataclasses import dataclass

from fleet.catalogue import HAZARDS
from fleet.circuits.covers.closing_features import closers_of
from fleet.circuits.covers.on_view import is_wanted
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


def gaps_panel(machine, found, groups):
    """The section of the overview on what the machine lacks; `found` is today's circuit, `groups` its FeatureGroups."""
    kept = MachineCover.objects.filter(machine=machine).select_related("cover").defer("cover__table").first()
    standing = standing_of(machine, kept, found)
    context = {
        "machine": machine,
        "pressing": [group for group in groups if group.is_pressing and (group.gaps or group.doubts)],
        "hazards": open_hazard_lines(kept),
        "standing": standing,
        "wants_cover": is_wanted(machine, kept, standing),
        "lacks_cover": kept is None or kept.cover is None,
    }
    return "fleet/_machine_gaps.html", context


def waiting_for(job, at):
    """Return what a page says of the job that computes its table, which may be None."""
    return {"job": job, "is_left_waiting": job is not None and job.is_left_waiting(at)}


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
