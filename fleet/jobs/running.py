"""Start a job, call its function, and close it whatever happens. The only place that calls the function of a kind."""

import logging
from contextlib import nullcontext

from django.db import InterfaceError, OperationalError
from django.utils import timezone

from fleet.errors import Refused
from fleet.jobs.errors import Cancelled, Lost, Stopped
from fleet.jobs.kinds import get_kind
from fleet.jobs.lifecycle import claim_job, end_cancelled_job, fail_job, release_job
from fleet.jobs.run import Run
from fleet.models import Job
from fleet.place_format import NEUTRAL, using

log = logging.getLogger(__name__)


def run_waiting_job(pk, *, clock, stop=None, pulse=True):
    """Run the job `pk` if it is waiting. Return its stage afterwards, or None if it was not waiting. Safe to repeat.

    clock   function that returns the present moment
    stop    an Event: once set, the job stops at its next progress and is queued again
    pulse   write heartbeats from a thread; without it only progress writes them
    """
    job = claim_job(pk, at=clock())
    if job is None:
        return None
    run = Run(job, clock=clock, stop=stop)
    try:
        with run.pulse() if pulse else nullcontext():
            _work(run)
    except Lost:
        log.warning("job %s: attempt %s was overtaken and has changed nothing", job.pk, job.attempt)
    except Stopped:
        release_job(job)
    job.refresh_from_db()
    log.info("job %s %s: %s", job.pk, job.kind, job.stage)
    return job.stage


def run_waiting_jobs(*, clock, stop=None, pulse=True):
    """Run every waiting job, the oldest first, one after the other. Return how many were run."""
    count = 0
    while not (stop and stop.is_set()):
        pk = Job.objects.waiting().oldest_first().values_list("pk", flat=True).first()
        if pk is None:
            break
        count += run_waiting_job(pk, clock=clock, stop=stop, pulse=pulse) is not None
    return count


def _work(run):
    job = run.job
    try:
        run.progress(0)
        with using(NEUTRAL), timezone.override(None):  # the same result in a worker and within a request
            result = get_kind(job.kind).work(run)
        if not run.is_finished:
            run.finish(result)
    except Cancelled:
        end_cancelled_job(job, at=run.clock())
    except Refused as refused:
        fail_job(job, str(refused), at=run.clock())
    except (OperationalError, InterfaceError):
        # The database is down: nothing can be written, and the sweep will queue the job again.
        log.exception("job %s %s lost the database", job.pk, job.kind)
    except Exception as error:
        log.exception("job %s %s failed", job.pk, job.kind)
        fail_job(job, _unexpected(job, error), at=run.clock())


def _unexpected(job, error):
    return (
        f"An unexpected error occurred ({type(error).__name__}). Nothing was saved in part. "
        f"Tell your Bobbin administrator: the details are in the log under “job {job.pk}”."
    )
