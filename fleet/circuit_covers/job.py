"""The long work of covers: every machine's circuit looked at, each different circuit computed once."""

from collections import Counter
from datetime import time, timedelta

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.actions.circuit_covers import compute_machine_cover, remove_unused_covers
from fleet.cover.queries import states_of
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.machine_circuit import circuits_of
from fleet.models import Machine

CIRCUIT_COVER = "circuit-cover"
CHUNK = 50
KEEP_UNUSED = timedelta(days=90)


@job_kind(CIRCUIT_COVER, "What gas circuits make possible", permission="fleet.compute_circuitcover")
def compute_covers(run):
    """Give every machine that is not retired the cover of today's circuit; what is kept and still holds is not redone.

    params  "site" or "machine" (a key) narrow it
    Each machine is done by itself, so that a run that ends early has lost nothing, and the next goes on from there.
    """
    counts, tables = Counter(), 0
    wanted = _wanted(run)
    total = len(wanted)
    for done, (machine, found, states) in enumerate(_loaded(wanted, run.started_at)):
        run.progress(done, total, f"Circuit of machine {machine}")

        def tell(part, of, what, done=done, machine=machine):
            run.progress(done, total, f"Circuit of machine {machine}: {part} of {of} {what}")

        cover, is_new = compute_machine_cover(machine, found, states, by=run.by, at=run.started_at, tell=tell)
        counts["with" if cover.cover_id else "without"] += 1
        tables += is_new
    run.progress(total, total, "Every circuit is looked at")
    if run.by is None:
        remove_unused_covers(before=run.started_at - KEEP_UNUSED)
    return Result(_words(counts, tables), link=_link(run))


def _wanted(run):
    """Keys of the machines: those that may be seen by who asked, or all when nobody did."""
    machines = Machine.objects.visible_to(run.by) if run.by else Machine.objects.all()
    chosen = Q()
    if "site" in run.params:
        chosen &= Q(area__site=run.params["site"])
    if "machine" in run.params:
        chosen &= Q(pk=run.params["machine"])
    return list(machines.not_retired().filter(chosen).order_by("asset_number").values_list("pk", flat=True))


def _loaded(pks, moment):
    """Yield machines with their circuits and recorded protections of today, read CHUNK at a time."""
    today = timezone.localdate(moment)
    for first in range(0, len(pks), CHUNK):
        machines = list(Machine.objects.with_place().filter(pk__in=pks[first : first + CHUNK]).order_by("asset_number"))
        circuits, states = circuits_of(machines, today=today), states_of(machines, today)
        for machine in machines:
            yield machine, circuits[machine.pk], states[machine.pk]


def _link(run):
    if "machine" in run.params:
        return reverse("fleet:machine_cover", args=[run.params["machine"]])
    return f"{reverse('fleet:cover')}#circuits-title"


def _words(counts, tables):
    words = f"{counts['with']} machine{_s(counts['with'])} looked at, {tables} circuit{_s(tables)} computed"
    if not counts["without"]:
        return f"{words}; the others were known."
    return f"{words}; {counts['without']} machine{_s(counts['without'])} without a circuit that can be computed."


def _s(count):
    return "" if count == 1 else "s"


run_daily(CIRCUIT_COVER, "Look at every gas circuit", at=time(2, 0))
