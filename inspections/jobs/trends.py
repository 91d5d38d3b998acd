"""Forecasts of what was measured: every night of all machines, after a signature of one."""

from datetime import time

from fleet.actions import request_job
from fleet.errors import JobRefused
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import Machine
from inspections.machine_trends.forecasting import make_forecasts, measured_tests

TRENDS = "trend-forecasts"


@job_kind(TRENDS, "Trends of measured results")
def make_trends(run):
    """Make the forecasts test by test; each is stored at once, and a second attempt makes them again.

    params  "machine" (a key) limits them to one machine
    """
    pk, made = run.params.get("machine"), 0
    machine = Machine.objects.filter(pk=pk).first() if pk else None
    for test_code in run.each(measured_tests(machine), "Trends"):
        made += make_forecasts(test_code, at=run.started_at, machine=machine)
    return Result(f"{made} trend{'' if made == 1 else 's'} computed.")


def request_trends_of(machine, *, at):
    """Request the forecasts of a machine, whose results have just changed; return the job, or None.

    A signature must not fail because of it.
    """
    title = f"Trends of machine {machine}"
    try:
        return request_job(TRENDS, title=title, params={"machine": machine.pk}, by=None, at=at)
    except JobRefused:
        return None


run_daily(TRENDS, "Compute the trends of all machines", at=time(3, 30))
