"""The background job of covers: checks every machine's circuit and computes each different circuit once."""

from collections import Counter
from datetime import time, timedelta

from django.conf import settings
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.circuits.covers.in_processes import computed_covers
from fleet.circuits.covers.machines_to_read import confirm, note_read, place_in_journal, to_read
from fleet.circuits.covers.storing import (
    circuits_to_compute,
    keep_machine_covers,
    look_at_circuit,
    remove_unused_covers,
    store_cover,
)
from fleet.circuits.measured_circuit import circuits_as_measured
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import FeatureState, Machine

CIRCUIT_COVER = "circuit-cover"
CHUNK = 50
FEWEST = 2  # circuits that are worth the start of a process
KEEP_UNUSED = timedelta(days=90)


@job_kind(CIRCUIT_COVER, "Cover tables of gas circuits", permission="fleet.compute_circuitcover")
def compute_covers(run):
    """Give every machine that is not retired the cover of today's circuit; valid stored covers are not recomputed.

    params  "site" or "machine" (a key) limit the machines; one machine is always read, of several those that may have
            changed
    Each table is saved as soon as it is computed, and machines are processed in batches, so that a run that ends early
    loses little and the next run continues from there.
    """
    counts, machines, today = Counter(), _wanted(run), timezone.localdate(run.started_at)
    sequence, total = place_in_journal(), machines.count()
    keys = [run.params["machine"]] * total if "machine" in run.params else to_read(machines, today)
    for first in range(0, len(keys), CHUNK):
        batch = _loaded(keys[first : first + CHUNK], today)
        counts["tables"] += _compute_together(run, batch, first, len(keys))
        looked = [_look(run, each, first + n, len(keys)) for n, each in enumerate(batch)]
        keep_machine_covers(looked, by=run.by, at=run.started_at)
        counts["read"] += len(looked)
        counts["tables"] += sum(one.is_new for one in looked)
    confirm(machines, run.started_at)
    run.progress(len(keys), len(keys), "All circuits checked")
    if run.by is None and not run.params:
        note_read(sequence, today, run.started_at)
        remove_unused_covers(before=run.started_at - KEEP_UNUSED)
    counts["without"] = machines.filter(circuit_cover__cover=None).count()
    return Result(_words(total, counts), link=_link(run))


def _compute_together(run, batch, done, total):
    """Compute the circuits of a batch that have no table yet, if they are several, in processes. Return their number.

    Each table is stored as soon as it is there. A circuit without a solution is left to the machine that has it.
    """
    if settings.EVALUATION_PROCESSES < 2:
        return 0
    wanted = circuits_to_compute([(machine, found) for machine, found, _ in batch])
    if len(wanted) < FEWEST:
        return 0

    def tell(number, of, what):
        run.progress(done, total, f"{number} of {of} {what}")

    count = 0
    for digest, computed in computed_covers(wanted, processes=settings.EVALUATION_PROCESSES, tell=tell):
        if computed is not None:
            store_cover(wanted[digest], digest, computed, run.started_at)
            count += 1
    return count


def _look(run, loaded, done, total):
    machine, found, states = loaded
    words = f"Circuit of machine {machine}"
    run.progress(done, total, words)

    def tell(number, of, what):
        run.progress(done, total, f"{words}: {number} of {of} {what}")

    return look_at_circuit(machine, found, states, at=run.started_at, tell=tell)


def _wanted(run):
    """Return the machines: those visible to the user who started the job, or all for a scheduled job."""
    machines = Machine.objects.visible_to(run.by) if run.by else Machine.objects.all()
    chosen = Q()
    if "site" in run.params:
        chosen &= Q(area__site=run.params["site"])
    if "machine" in run.params:
        chosen &= Q(pk=run.params["machine"])
    return machines.not_retired().filter(chosen)


def _loaded(pks, today):
    """Return machines with their circuits and recorded safety features of today, in the order of their numbers."""
    machines = list(Machine.objects.with_place().filter(pk__in=pks).order_by("asset_number"))
    circuits = circuits_as_measured(machines, today)
    states = FeatureState.objects.by_machine(machines, today)
    return [(machine, circuits[machine.pk], states[machine.pk]) for machine in machines]


def _link(run):
    if "machine" in run.params:
        return reverse("fleet:machine_cover", args=[run.params["machine"]])
    return f"{reverse('fleet:cover')}#circuits-title"


def _words(total, counts):
    tables, without, passed = counts["tables"], counts["without"], total - counts["read"]
    words = f"{total} machine{_s(total)} checked, {tables} circuit{_s(tables)} computed"
    unchanged = f" {passed} machine{_s(passed)} without any change {_was(passed)} not read." if passed else ""
    if not without:
        return f"{words}; the others were up to date.{unchanged}"
    return f"{words}; {without} machine{_s(without)} without a circuit that can be computed.{unchanged}"


def _was(count):
    return "was" if count == 1 else "were"


def _s(count):
    return "" if count == 1 else "s"


run_daily(CIRCUIT_COVER, "Check every gas circuit", at=time(2, 0))
