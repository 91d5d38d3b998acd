"""Store the results for a machine's gas circuit. They are computed before any lock or write."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction

from fleet.circuit.derived_features import contradictions
from fleet.circuit.digest import circuit_digest
from fleet.circuit.serialise import closing_to_dict, table_to_dict
from fleet.circuit.solution import NoSolution
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.derived_as_json import shown_from_dict, shown_to_dict
from fleet.circuits.covers.hazard_rows import hazard_rows
from fleet.circuits.covers.program_digest import SOFTWARE, rules
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.covers.shipped import shipped_cover
from fleet.circuits.machine_circuit import MachineCircuit
from fleet.extensions import tell_contradictions, tell_covers
from fleet.models import CircuitCover, CoverHazard, Machine, MachineCover
from fleet.work_progress import tell_nobody

NO_ORDINARY_USE = "The circuit has no steady flow in ordinary use."


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A machine with the result for its circuit: the cover, or the reason why there is none.

    measured  in words, measured values that differ from the rated values
    states    recorded states of its safety features: feature code -> state
    is_new    whether the cover was just computed
    """

    machine: Machine
    found: MachineCircuit
    states: Mapping[str, str]
    cover: CircuitCover | None = None
    reason: str = ""
    measured: Sequence[str] = ()
    is_new: bool = False


def look_at_circuit(machine, found, states, *, at, tell=tell_nobody):
    """Return the LookedAt of a machine; its table is computed and stored unless that of an equal circuit exists.

    machine  with its model and site
    found    its MachineCircuit of today
    states   as in LookedAt
    tell     function of done, total and words, called while a table is computed; an exception from it ends the work
    """
    seen = LookedAt(machine, found, states)
    if not found.can_be_solved:
        return replace(seen, reason=reason_without(found))
    circuit, measured = shared_circuit(machine, found)
    try:
        cover, is_new = cover_of(circuit, at=at, tell=tell)
    except NoSolution as error:
        return replace(seen, reason=f"{NO_ORDINARY_USE} {error}")
    return replace(seen, cover=cover, measured=measured, is_new=is_new)


@transaction.atomic
def keep_machine_covers(looked, *, by, at):
    """Store the cover of each machine of a list of LookedAt, and handle contradictions of circuit and record.

    All or none of them. Safe to repeat.
    """
    rows = MachineCover.objects.filter(machine__in=[one.machine.pk for one in looked])
    before = dict(rows.values_list("machine", "cover"))
    for one in looked:
        fields = {
            "cover": one.cover,
            "reason": one.reason,
            "measured": list(one.measured),
            "basis": one.found.basis[:200],
            "on": one.machine.site.date_of(at),
            "computed_at": at,
        }
        MachineCover.objects.update_or_create(machine=one.machine, defaults=fields)
        shown = shown_from_dict(one.cover.shown) if one.cover else {}
        tell_contradictions(one.machine, contradictions(shown, one.states), by=by, at=at)
    now = {one.machine.pk: one.cover and one.cover.pk for one in looked}
    if changed := [pk for pk, cover in now.items() if before.get(pk) != cover]:
        tell_covers(changed)


def cover_of(circuit, *, at, tell=tell_nobody):
    """Return the stored cover of a circuit as covers use it, and whether it was just computed. Raise NoSolution.

    One that comes with the program is stored, and not computed.
    """
    digest = circuit_digest(circuit)
    kept = CircuitCover.objects.without_table().computed_by(rules()).filter(digest=digest).first()
    if kept is not None:
        return kept, False
    shipped = shipped_cover(digest)
    return store_cover(circuit, digest, shipped or compute(circuit, tell), at), shipped is None


def circuits_to_compute(loaded):
    """Return the circuits, as covers use them and by digest, of which no table is stored or shipped.

    loaded  machines, each with its MachineCircuit
    """
    shared = (shared_circuit(machine, found)[0] for machine, found in loaded if found.can_be_solved)
    by_digest = {circuit_digest(circuit): circuit for circuit in shared}
    kept = CircuitCover.objects.computed_by(rules()).filter(digest__in=by_digest)
    known = set(kept.values_list("digest", flat=True))
    left = {digest: circuit for digest, circuit in by_digest.items() if digest not in known}
    return {digest: circuit for digest, circuit in left.items() if shipped_cover(digest) is None}


def store_cover(circuit, digest, computed, at):
    """Store what was computed of a circuit, and return its CircuitCover."""
    fields = {
        "title": circuit.title[:200],
        "components": len(circuit.components),
        "causes": computed.table.causes,
        "unsolved": len(computed.table.unsolved),
        "table": {**table_to_dict(computed.table), "circuit": circuit.title},
        "shown": shown_to_dict(computed.shown),
        "closing": closing_to_dict(computed.closing),
        "rules": rules(),
        "software": SOFTWARE,
        "computed_at": at,
        "seconds": computed.seconds,
    }
    with transaction.atomic():
        cover, _ = CircuitCover.objects.update_or_create(digest=digest, defaults=fields)
        cover.hazards.all().delete()
        CoverHazard.objects.bulk_create(hazard_rows(cover, computed.table, computed.closing))
    return cover


def reason_without(found):
    """Return the reason why a MachineCircuit has no cover."""
    if found.circuit is None and not found.problems:
        return f"{found.basis[:1].upper()}{found.basis[1:]}."
    return "\n".join(str(problem) for problem in found.problems[:20])


def remove_unused_covers(*, before):
    """Remove covers that no machine uses and that were computed before a moment. Return their number."""
    unused = list(CircuitCover.objects.unused_since(before).values_list("pk", flat=True)[:1000])
    CircuitCover.objects.filter(pk__in=unused, machines=None).delete()
    return len(unused)
