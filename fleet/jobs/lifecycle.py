"""Changes of background jobs. Every change of stage is compare-and-set, so that of two who try only one succeeds."""

import hashlib
import json
import secrets
from datetime import timedelta
from functools import partial
from pathlib import PurePath

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F

from fleet.errors import JobRefused
from fleet.jobs.errors import Lost
from fleet.jobs.kinds import get_kind
from fleet.jobs.sending import send_to_worker
from fleet.models import Job

Stage = Job.Stage
MOST_ATTEMPTS = 3
UNSENT = timedelta(minutes=2)  # a job that waits longer than this is sent to the worker again,
SENT_AGAIN = timedelta(minutes=10)  # at most this often
AT_ONCE = 100


@transaction.atomic
def request_job(kind, *, title, params, by, at, key=None, due_on=None):
    """Request a job; a worker, or the scheduler, starts it after the commit. Return it.

    key     identifies equal requests; by default the kind, the person and the params. While such a job is open it is
            returned and no second one created.
    params  what JSON can hold
    """
    get_kind(kind)
    key = key or _key_of(kind, params, by)
    fields = {"kind": kind, "title": title[:200], "params": params, "by": by, "asked_at": at, "due_on": due_on}
    try:
        with transaction.atomic():
            job = Job.objects.create(key=key, **fields)
    except IntegrityError:
        return _already_asked(kind, key, due_on)
    transaction.on_commit(partial(send_to_worker, job.pk), robust=True)
    return job


def _key_of(kind, params, by):
    digest = hashlib.sha256(json.dumps(params, sort_keys=True).encode()).hexdigest()[:40]
    return f"{kind}:{by.pk if by else ''}:{digest}"


def _already_asked(kind, key, due_on):
    same = Job.objects.filter(kind=kind, due_on=due_on) if due_on else Job.objects.open().filter(key=key)
    job = same.first()
    if job is None:
        raise JobRefused("The same job has just ended. Check its result, and request it again if needed.")
    return job


def claim_job(pk, *, at):
    """Start a waiting job and return it, or None if it is not waiting: another process runs it, or it has ended."""
    claimed = Job.objects.waiting().filter(pk=pk)
    if not claimed.update(
        stage=Stage.RUNNING, attempt=F("attempt") + 1, started_at=at, heartbeat_at=at, done=0, total=0, words=""
    ):
        return None
    return Job.objects.select_related("by").get(pk=pk)


@transaction.atomic
def finish_job(job, result, *, at, done=0, total=0, words=""):
    """Close a running job as done, with its result. Raise Lost if another attempt has taken it over."""
    fields = {"result": result.words[:500], "link": result.link, "done": done, "total": total, "words": words}
    if result.file is not None:
        fields |= {"file": _keep_file(job, result), "file_name": result.name[-120:]}
    _close(job, Stage.DONE, at=at, heartbeat_at=at, **fields)


def _keep_file(job, result):
    """Store the file under a name that nobody can guess; the sweep removes a file that no job names."""
    result.file.seek(0)
    suffix = PurePath(result.name).suffix
    return Job.file.field.storage.save(f"{job.pk}-{job.attempt}-{secrets.token_hex(8)}{suffix}", result.file)


def fail_job(job, error, *, at):
    """Close a running job as failed, with the reason in plain words."""
    _close(job, Stage.FAILED, at=at, error=error)


def end_cancelled_job(job, *, at):
    """Close a running job as cancelled, once its function has stopped."""
    _close(job, Stage.CANCELLED, at=at)


def release_job(job):
    """Queue a running job again, because the process that runs it must end."""
    Job.objects.held_by(job).update(stage=Stage.WAITING, words="", heartbeat_at=None)


def _close(job, stage, *, at, **fields):
    if not Job.objects.held_by(job).update(stage=stage, finished_at=at, **fields):
        raise Lost


def cancel_job(job, *, by, at):
    """Cancel a waiting job, or one whose process died; ask a running one to stop. Raise JobRefused if it has ended."""
    asked = {"cancel_asked_at": at, "cancel_asked_by": by}
    over = {"stage": Stage.CANCELLED, "finished_at": at}
    one = Job.objects.filter(pk=job.pk)
    if one.waiting().update(**over, **asked) or one.silent(at=at, lease=lease()).update(**over, **asked):
        return
    if one.running().update(**asked):
        return
    job.refresh_from_db()
    raise JobRefused(f"“{job}” is already {job.stage}, so it cannot be cancelled.")


def lease():
    """Return how long a running job may show no progress before it counts as dead."""
    return timedelta(seconds=settings.JOB_LEASE_SECONDS)


def retry_job(job, *, by, at):
    """Request the same job again. Raise JobRefused unless it failed or was cancelled."""
    if not job.can_be_retried:
        raise JobRefused(f"“{job}” is {job.stage}. Only a job that failed or was cancelled can be run again.")
    return request_job(job.kind, title=job.title, params=job.params, by=by, at=at)


def recover_jobs(*, at, lease):
    """End runs without progress for longer than `lease`: their jobs are queued again, or fail after MOST_ATTEMPTS.

    A job that waits for long is sent to the worker again: the broker may have lost it. Return how many were ended.
    """
    silent = Job.objects.silent(at=at, lease=lease)
    found = list(silent.values_list("pk", flat=True)[:AT_ONCE])
    silent.filter(pk__in=found, cancel_asked_at__isnull=False).update(stage=Stage.CANCELLED, finished_at=at)
    silent.filter(pk__in=found, attempt__gte=MOST_ATTEMPTS).update(
        stage=Stage.FAILED,
        finished_at=at,
        error=f"The process stopped {MOST_ATTEMPTS} times before the job was finished. "
        "Nothing was saved in part. Tell your Bobbin administrator before you run it again.",
    )
    silent.filter(pk__in=found).update(stage=Stage.WAITING, words="", heartbeat_at=None)
    for pk in Job.objects.unsent_since(at - UNSENT, at - SENT_AGAIN, at=at).values_list("pk", flat=True)[:AT_ONCE]:
        Job.objects.waiting().filter(pk=pk).update(heartbeat_at=at)
        send_to_worker(pk)
    return len(found)
