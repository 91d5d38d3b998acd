"""The levelling of first due dates of a large department, in the background."""

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from inspections.actions import level_first_inspections

LEVELLING = "level-first-dates"
AT_ONCE = 500  # inspections that are levelled while the person waits: 5,000 take 6 seconds of a processor


def request_levelling(number, *, by, at):
    """Ask for the levelling of the first inspections that `by` may see; `number` is what the page showed."""
    title = f"Level {number} first due dates"
    return request_job(LEVELLING, title=title, params={"number": number}, by=by, at=at)


@job_kind(LEVELLING, "Level first due dates", permission="inspections.plan_inspection")
def level_first_dates(run):
    """One transaction: all are levelled or none. It levels no inspection twice."""
    today = timezone.localdate(run.started_at)
    with transaction.atomic():
        number = level_first_inspections(
            today=today, by=run.by, at=run.started_at, number=run.params["number"], tell=run.progress
        )
        run.finish(Result(f"{number} first due dates are levelled.", link=reverse("inspections:work")))
