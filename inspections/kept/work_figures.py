"""The figures above the work list: open work, and the share of due dates that were met on time."""

from dataclasses import dataclass

from inspections.kept.due_dates import on_time_figure
from inspections.schedule.headings import open_work
from inspections.schedule.on_time import default_period
from inspections.schedule.on_time_figures import Figure

DUE_DAYS = 30


@dataclass(frozen=True, slots=True)
class WorkFigures:
    """Counts of open work, and what became of the due dates of the last 12 months."""

    due: int
    overdue: int
    on_time: Figure


def work_figures(person, today, days=DUE_DAYS, known=None):
    """Count for the sites that `person` may see, in three queries.

    known  what the page has counted already of all that the person may see: `due` within `days`, and `overdue`
    """
    known = known or {}
    if days != DUE_DAYS or known.keys().isdisjoint(("due", "overdue")):
        known = open_work(person, today, DUE_DAYS)
    return WorkFigures(
        due=known["due"],
        overdue=known["overdue"],
        on_time=on_time_figure(person, *default_period(today), today),
    )
