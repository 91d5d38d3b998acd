"""The figures above the work list: open work, and the share of due dates that were met on time."""

from dataclasses import dataclass

from inspections.kept.due_dates import judged_due_dates
from inspections.models import Inspection
from inspections.schedule.on_time import default_period
from inspections.schedule.on_time_figures import Figure, figure_of

DUE_DAYS = 30


@dataclass(frozen=True, slots=True)
class WorkFigures:
    """Counts of open work, and what became of the due dates of the last 12 months."""

    due: int
    overdue: int
    on_time: Figure


def work_figures(person, today, days=DUE_DAYS, known=None):
    """Count for the sites that `person` may see, in four queries.

    known  what the page has counted already of all that the person may see: `due` within `days`, and `overdue`
    """
    inspections, known = Inspection.objects.visible_to(person), known or {}
    due = known.get("due") if days == DUE_DAYS else None
    overdue = known.get("overdue")
    return WorkFigures(
        due=inspections.coming(today, DUE_DAYS).count() if due is None else due,
        overdue=inspections.overdue(today).count() if overdue is None else overdue,
        on_time=figure_of(judged_due_dates(person, *default_period(today), today)),
    )
