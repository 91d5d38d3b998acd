"""Jobs that start automatically: which, when, and each once a day however many processes check the clock.

One table for the worker's beat and for the scheduler. What was missed while nothing ran is made up for the same day.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import time

from django.utils import timezone

from fleet.jobs.lifecycle import request_job
from fleet.models import Job

_periodic = {}


@dataclass(frozen=True, slots=True)
class Periodic:
    """A kind of job asked for once a day from `at` on, in the time zone of the installation; `is_wanted` may say no."""

    kind: str
    title: str
    at: time
    is_wanted: Callable[[], bool] = lambda: True


def run_daily(kind, title, *, at, is_wanted=lambda: True):
    """Have a job of `kind` asked for every day at the time `at`. Declared once, from an AppConfig's `ready`."""
    _periodic[kind] = Periodic(kind, title, at, is_wanted)


def request_due_jobs(*, at):
    """Ask for every daily job whose time has come today and that was not asked for yet. Return how many."""
    local = timezone.localtime(at)
    today, now = local.date(), local.time()
    # Done on a day that is still to come, by a clock that was wrong: that day gets a job of its own.
    Job.objects.closed().filter(due_on__gt=today).update(due_on=None)
    asked = set(Job.objects.filter(due_on=today).values_list("kind", flat=True))
    due = [one for one in _periodic.values() if one.at <= now and one.kind not in asked and one.is_wanted()]
    for one in due:
        params = {"on": today.isoformat()}
        request_job(one.kind, title=one.title, params=params, by=None, at=at, key=f"{one.kind}:{today}", due_on=today)
    return len(due)
