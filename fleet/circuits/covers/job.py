"""The background job of covers: checks every machine's circuit and computes each different circuit once."""

from collections import Counter
from datetime import time, timedelta

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.circuits.covers.machines_to_read import confirm, note_read, place_in_journal, to_read
from fleet.circuits.covers.storing import keep_machine_covers, look_at_circuit, remove_unused_covers
from fleet.circuits.measured_circuit import circuits_as_measured
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import FeatureState, Machine

CIRCUIT_COVER = "circuit-cover"
CHUNK = 50
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
