"""Computes the cover of one machine when somebody opens it who finds none of today, rather than at night."""

from datetime import timedelta

from fleet.circuit.causes import causes_of
from fleet.circuit.digest import circuit_digest
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.circuits.covers.program_digest import rules
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.covers.shipped import shipped_cover
from fleet.circuits.covers.storing import keep_machine_covers, look_at_circuit
from fleet.circuits.covers.validity import standing_of
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.jobs.lifecycle import request_job
from fleet.models import CircuitCover, FeatureState, Job, MachineCover, MachineStatus
from fleet.place_format import NEUTRAL, using

# Components times causes of the largest circuit that somebody waits for: about a second and a half of the processor,
# closing sets included. Source: tests/benchmarks/bench_circuit.py.
WHILE_ONE_WAITS = 20_000
TRIED_AGAIN = timedelta(hours=1)  # after a job that failed


def is_wanted(machine, kept, standing):
    """Return whether the cover of a machine is to be computed now: there is none, or it is not that of today."""
    return machine.status != MachineStatus.RETIRED and (kept is None or bool(standing.outdated))


def compute_on_view(machine, *, at):
    """Compute and store the cover of a machine if it has none of today. Return None, or the job that does it.

    A small circuit, or one whose table is stored or shipped, is not worth a job. The job is the same for all who wait;
    one that has failed is returned as it ended, and requested again only after an hour.
    """
    today = machine.site.date_of(at)
    found = circuit_as_measured(machine, today, today=today)
    kept = MachineCover.objects.filter(machine=machine).select_related("cover").defer("cover__table").first()
    if not is_wanted(machine, kept, standing_of(machine, kept, found)):
        return None
    if not _takes_a_moment(machine, found):
        return _requested(machine, at)
    with using(NEUTRAL):
        states = FeatureState.objects.by_machine([machine], today)[machine.pk]
        looked = look_at_circuit(machine, found, states, at=at)
        keep_machine_covers([looked], by=None, at=at)
    return None


def _takes_a_moment(machine, found):
    if not found.can_be_solved:
        return True
    circuit = shared_circuit(machine, found)[0]
    if len(circuit.components) * len(causes_of(circuit)) <= WHILE_ONE_WAITS:
        return True
    digest = circuit_digest(circuit)
    is_stored = CircuitCover.objects.computed_by(rules()).filter(digest=digest).exists()
    return is_stored or shipped_cover(digest) is not None


def _requested(machine, at):
    """Return the job for all who view a machine: nobody requested it by name."""
    key = f"{CIRCUIT_COVER}:view:{machine.pk}"
    last = Job.objects.closed().filter(key=key, asked_at__gt=at - TRIED_AGAIN).order_by("-pk").first()
    if last is not None and last.stage != Job.Stage.DONE:
        return last
    title, params = f"Gas circuit of machine {machine}", {"machine": machine.pk}
    return request_job(CIRCUIT_COVER, title=title, params=params, by=None, at=at, key=key)
