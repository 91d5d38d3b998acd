"""The section of the printed cover report about hazards that the computed gas circuits leave open."""

from reportlab.platypus import Spacer

from fleet.cover_report.report import CoverReport
from fleet.days import long_date
from fleet.documents import Heading, data_table, text
from fleet.documents.phrases import percent
from fleet.place_format import counted

TITLE = "Hazards that the gas circuits leave open"
NOTE = (
    "Computed from each machine's gas circuit, one cause at a time: a machine is counted if at least one cause leads "
    "to the hazard and nothing on the machine stops it or gives an alarm. Machines without a computed circuit count "
    "neither as open nor as closed. By area, in brackets: machines where fitting a missing safety feature would close "
    "a cause that is not rare."
)


def circuit_story(report: CoverReport, paper):
    """Return the section; for a day other than today it says that nothing is computed for that day."""
    view = report.circuits
    if view is None:
        words = "Gas circuits are computed for today only; this report is for another day."
        return [Heading(TITLE), text(words, "note")]
    parts = [Heading(TITLE), text(NOTE, "note"), text(_coverage(view), "small")]
    if view.hazards:
        parts += [Spacer(1, 4), _hazards(view, paper), Spacer(1, 6), _places(view, paper)]
    return parts


def _coverage(view):
    computed, exposed = counted(view.computed), counted(view.exposed)
    words = [f"{computed} of {counted(view.machines)} machines computed, {exposed} with an open hazard"]
    words += [f"{counted(view.failed)} whose circuit cannot be computed"] if view.failed else []
    words += [f"{counted(view.missing)} not computed yet"] if view.missing else []
    oldest = f" The oldest result was computed {long_date(view.oldest.date())}." if view.oldest else ""
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
        "With a cause that is not rare",
        "A safety feature would close it",
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
