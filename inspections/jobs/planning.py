"""The nightly plan of what falls due."""

from datetime import time

from django.utils import timezone

from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from inspections.actions import plan_due_inspections

PLAN_DUE = "plan-due"


@job_kind(PLAN_DUE, "Planning of due inspections")
def plan_due(run):
    """Plan the next inspection of every machine and procedure, a batch at a time; a second attempt plans the rest."""
    planned = plan_due_inspections(today=timezone.localdate(run.started_at), at=run.started_at, tell=run.progress)
    return Result(f"{planned} inspection{'' if planned == 1 else 's'} planned.")


run_daily(PLAN_DUE, "Plan due inspections", at=time(3, 0))
