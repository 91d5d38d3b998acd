"""The part of the cover report on paper that says what the computed gas circuits leave open."""

from reportlab.platypus import Spacer

from fleet.cover.report import CoverReport
from fleet.cover.words import percent
from fleet.documents import Heading, data_table, long_date, text
from fleet.place_format import counted

TITLE = "Hazards that the gas circuits leave open"
NOTE = (
    "Computed from each machine's gas circuit, one cause at a time: machines of which at least one cause brings the "
    "hazard about while nothing on the machine stops it or tells of it. Machines without a computed circuit count "
    "neither as open nor as closed. By area, in brackets: machines on which a protection that they lack would close a "
    "cause that is not rare."
)


def circuit_story(report: CoverReport, paper):
    """Return the section; of another day than today it says only that nothing is known of it."""
    view = report.circuits
    if view is None:
        words = "Gas circuits are computed for today only; this report is of another day."
        return [Heading(TITLE), text(words, "note")]
    parts = [Heading(TITLE), text(NOTE, "note"), text(_coverage(view), "small")]
    if view.hazards:
        parts += [Spacer(1, 4), _hazards(view, paper), Spacer(1, 6), _places(view, paper)]
    return parts


def _coverage(view):
    computed, exposed = counted(view.computed), counted(view.exposed)
    words = [f"{computed} of {counted(view.machines)} machines computed, {exposed} with an open hazard"]
    words += [f"{counted(view.failed)} without a circuit that can be computed"] if view.failed else []
    words += [f"{counted(view.missing)} not looked at yet"] if view.missing else []
    oldest = f" The oldest was computed {long_date(view.oldest.date())}." if view.oldest else ""
    return f"{'; '.join(words)}.{oldest}"


def _hazards(view, paper):
    rows = [
        [
            text(each.hazard.name, "small-strong"),
            counted(each.machines),
            percent(each.share),
            counted(each.likely),
            counted(each.closable),
        ]
        for each in view.hazards
    ]
    head = [
        "Hazard",
        "Machines",
        "Share of those computed",
        "By a cause that is not rare",
        "And a protection would close it",
    ]
    return data_table(head, rows, [paper.width * part for part in (0.28, 0.12, 0.18, 0.2, 0.22)], numbers=range(1, 5))


def _places(view, paper):
    rows = []
    for site in view.sites:
        rows.append([text(site.name, "small-strong"), *_figures(site)])
        rows += [[text(area.name, "small-indent"), *_figures(area)] for area in site.areas]
    head = ["Site and area", "Machines", "Not computed", "Open", *(each.hazard.name for each in view.hazards)]
    share = 0.55 / max(1, len(view.hazards))
    widths = [paper.width * part for part in (0.22, 0.08, 0.08, 0.07, *[share] * len(view.hazards))]
    return data_table(head, rows, widths, numbers=range(1, len(head)), is_dense=True)


def _figures(place):
    counts = [
        f"{counted(count)} ({counted(closable)})" if closable else counted(count) for count, closable in place.counts
    ]
    return [*(counted(count) for count in (place.machines, place.unknown, place.exposed)), *counts]
