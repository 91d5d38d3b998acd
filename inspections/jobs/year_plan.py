"""The plan of a year, computed in the background and stored as a proposal."""

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from inspections.actions import compute_year, propose_year

YEAR_PLAN = "year-plan"


def request_year_plan(*, by, at):
    """Ask for a plan of all planned inspections that `by` may see."""
    return request_job(YEAR_PLAN, title="Plan of the year", params={}, by=by, at=at)


@job_kind(YEAR_PLAN, "Plan of the year", permission="inspections.plan_inspection")
def plan_the_year(run):
    """Compute outside the transaction that stores the proposal. Books nothing."""
    today = timezone.localdate(run.started_at)
    problem, plan, seconds = compute_year(run.by, today=today, tell=run.progress)
    with transaction.atomic():
        propose_year(problem, plan, seconds=seconds, by=run.by, at=run.started_at)
        words = f"{len(plan.placements)} inspections have a day, {len(plan.unplaced)} have none. Nothing is booked yet."
        run.finish(Result(words, link=reverse("inspections:year_plan")))
