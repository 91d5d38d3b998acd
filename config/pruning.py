"""The daily removal of old rows: sessions, failed logins, uploaded files that nobody confirmed,
keys of requests."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import time, timedelta
from functools import partial

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db.models import QuerySet

from fleet.imports.staging import discard_left_over
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import RegisterUpload
from inspections.models import DeviceAnswer

PRUNE = "prune"
BATCH = 500  # rows removed in one transaction, so that other writers wait briefly
KEEP_ATTEMPTS = timedelta(days=7)
KEEP_UPLOADS = timedelta(days=30)
KEEP_ANSWERS = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Perishable:
    """Rows that are removed; `old` is a function of the present moment that returns the old ones."""

    one: str
    many: str
    old: Callable[..., QuerySet]


def old_attempts(model):
    """Return the function of old rows of a model of failed logins; rows that may still lock an account are not old."""
    keep = max(KEEP_ATTEMPTS, 2 * timedelta(minutes=settings.LOCKOUT_MINUTES))
    return lambda at: model.objects.filter(attempt_time__lt=at - keep)


PERISHABLE = (
    Perishable("session", "sessions", lambda at: Session.objects.filter(expire_date__lt=at)),
    Perishable("record of wrong passwords", "records of wrong passwords", old_attempts(AccessAttempt)),
    Perishable("failed login", "failed logins", old_attempts(AccessFailureLog)),
    Perishable("login", "logins", old_attempts(AccessLog)),
    Perishable(
        "file that nobody imported",
        "files that nobody imported",
        lambda at: RegisterUpload.objects.filter(imported_at=None, uploaded_at__lt=at - KEEP_UPLOADS),
    ),
    Perishable(
        "answer to a device", "answers to devices", lambda at: DeviceAnswer.objects.filter(at__lt=at - KEEP_ANSWERS)
    ),
)


@job_kind(PRUNE, "Removing expired data")
def prune(run):
    """Remove what is old, a batch at a time. Safe to repeat and to kill: the next run removes the rest."""
    counts = []
    for done, perishable in enumerate(PERISHABLE):
        run.progress(done, len(PERISHABLE), f"Removing {perishable.many}")
        counts.append((_remove(perishable.old(run.started_at), tell=partial(run.progress, done)), perishable))
    run.progress(len(PERISHABLE))
    left_over = discard_left_over(at=run.started_at)
    removed = [f"{count:,} {one.one if count == 1 else one.many}" for count, one in counts]
    return Result(f"Removed: {', '.join(removed)}, {left_over:,} machines of imports that were not finished.")


def _remove(old, *, tell):
    count = 0
    while pks := list(old.order_by().values_list("pk", flat=True)[:BATCH]):
        old.model._base_manager.filter(pk__in=pks).delete()
        count += len(pks)
        tell()
    return count


run_daily(PRUNE, "Remove old sessions, failed logins and files", at=time(4, 0))
