"""The nightly renewal of kept rows: those that hold for a day, for the new one; the others compared and mended."""

from datetime import time
from functools import partial

from django.utils import timezone

from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from inspections.kept.completions import NAME, mend_completions
from inspections.kept.keeping import fill
from inspections.kept.kinds import KINDS
from inspections.kept_counts.counts import fill_counts

KEPT_ROWS = "kept-rows"


@job_kind(KEPT_ROWS, "Due dates and reviews of machines")
def renew_kept_rows(run):
    """Renew every row in short transactions; safe to repeat. Undated rows that differed are a fault of the program."""
    words = []
    for kind in KINDS:
        each = partial(run.each, words=f"Renewing {kind.name}")
        found = fill(kind, at=run.started_at, day=timezone.localdate(run.started_at), each=each)
        words.append(
            f"{len(found)} {kind.name} {'renewed' if kind.is_dated else 'were not as recorded, and are renewed'}."
        )
    found = fill_counts(at=run.started_at, each=partial(run.each, words="Counting"))
    words.append(f"{len(found)} counts were not as recorded, and are renewed.")
    found = mend_completions(each=partial(run.each, words=f"Comparing {NAME}"))
    words.append(f"{len(found)} {NAME} were not as recorded, and are renewed.")
    return Result(" ".join(words))


run_daily(KEPT_ROWS, "Renew the due dates and reviews of machines", at=time(0, 5))
