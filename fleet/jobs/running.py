"""Take up a job, do its work, and close it whatever happens. The only place that calls the work of a kind."""

import logging
from contextlib import nullcontext

from django.db import InterfaceError, OperationalError
from django.utils import timezone

from fleet.actions.jobs import claim_job, end_cancelled_job, fail_job, release_job
from fleet.errors import Refused
from fleet.jobs.errors import Cancelled, Lost, Stopped
from fleet.jobs.kinds import get_kind
from fleet.jobs.run import Run
from fleet.models import Job
from fleet.place_format import NEUTRAL, using

log = logging.getLogger(__name__)


def run_waiting_job(pk, *, clock, stop=None, pulse=True):
    """Do the job `pk` if it is waiting. Return its stage afterwards, or None if it was not waiting. Safe to repeat.

    clock   function that returns the present moment
    stop    an Event: once set, the work is let go at its next sign of progress and the job waits again
    pulse   give signs of life from a thread; without it they are given by the work's progress only
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
    """Do every job that waits, the oldest first, one after the other. Return how many were done."""
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
        # The database went away: nothing can be written, and the sweep gives the job to somebody else.
        log.exception("job %s %s lost the database", job.pk, job.kind)
    except Exception as error:
        log.exception("job %s %s failed", job.pk, job.kind)
        fail_job(job, _unexpected(job, error), at=run.clock())


def _unexpected(job, error):
    return (
        f"Something went wrong that Bobbin does not know ({type(error).__name__}). Nothing was left half done. "
        f"Tell whoever runs Bobbin: the log has the details under “job {job.pk}”."
    )
