"""The nightly look at the intervals that rest on evidence."""

from datetime import time

from django.utils import timezone

from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from inspections.actions import watch_dossier
from inspections.models import IntervalDossier

WATCH_INTERVALS = "watch-intervals"


@job_kind(WATCH_INTERVALS, "Watching the intervals by evidence")
def watch_intervals(run):
    """Compute the bound of every dossier in force again; what breaks its policy withdraws itself. Safe to repeat."""
    ended = 0
    for pk in run.each(
        list(IntervalDossier.objects.in_force().order_by("pk").values_list("pk", flat=True)), "Watching"
    ):
        dossier = IntervalDossier.objects.get(pk=pk)
        ended += bool(watch_dossier(dossier, today=timezone.localdate(run.started_at), at=run.started_at))
    return Result(f"{ended} interval{'' if ended == 1 else 's'} by evidence ended.")


run_daily(WATCH_INTERVALS, "Watch the intervals by evidence", at=time(2, 30))
