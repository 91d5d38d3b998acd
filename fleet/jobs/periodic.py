"""Jobs that start automatically: which, when, and each once a day however many processes check the clock.

One table for the worker's beat and for the scheduler. A job that was missed runs later on the same day.
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
    """A kind of job requested once a day after `at`, in the installation's time zone, if `is_wanted` returns True."""

    kind: str
    title: str
    at: time
    is_wanted: Callable[[], bool] = lambda: True


def run_daily(kind, title, *, at, is_wanted=lambda: True):
    """Declare a job of `kind` for every day at the time `at`. Called once, from an AppConfig's `ready`."""
    _periodic[kind] = Periodic(kind, title, at, is_wanted)


def request_due_jobs(*, at):
    """Request every daily job that is due today and not requested yet. Return how many."""
    local = timezone.localtime(at)
    today, now = local.date(), local.time()
    # A job dated in the future, by a wrong clock, does not count for that day.
    Job.objects.closed().filter(due_on__gt=today).update(due_on=None)
    asked = set(Job.objects.filter(due_on=today).values_list("kind", flat=True))
    due = [one for one in _periodic.values() if one.at <= now and one.kind not in asked and one.is_wanted()]
    for one in due:
        params = {"on": today.isoformat()}
        request_job(one.kind, title=one.title, params=params, by=None, at=at, key=f"{one.kind}:{today}", due_on=today)
    return len(due)
