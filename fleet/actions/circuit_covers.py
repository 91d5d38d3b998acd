"""Keep what was computed of a machine's gas circuit. It is computed before anything is held or written."""

from django.db import transaction

from fleet.circuit.derived import contradictions
from fleet.circuit.digest import circuit_digest
from fleet.circuit.serialise import closing_to_dict, table_to_dict
from fleet.circuit.solution import NoSolution
from fleet.circuit_covers.computing import compute, hazard_rows
from fleet.circuit_covers.keeping import shown_from_dict, shown_to_dict
from fleet.circuit_covers.rules import SOFTWARE, rules
from fleet.circuit_covers.sharing import shared_circuit
from fleet.models import CircuitCover, CoverHazard, MachineCover
from fleet.panels import tell_contradictions

NO_ORDINARY_USE = "The circuit has no steady flow in ordinary use."


def compute_machine_cover(machine, found, states, *, by, at, tell=None):
    """Give a machine the cover of its circuit, computing the table unless one of an equal circuit is kept.

    machine  with its model and site
    found    its MachineCircuit of today
    states   what is recorded of its protections today: feature code -> state
    tell     function of done, total and words, called while a table is computed; what it raises ends the work, and
             leaves all that was kept before
    Return the MachineCover, and whether a table was computed for it. Safe to repeat.
    """
    if not found.can_be_solved:
        return _keep_none(machine, found, reason_without(found), by=by, at=at), False
    circuit, measured = shared_circuit(machine, found)
    try:
        cover, is_new = _cover_of(circuit, at=at, tell=tell)
    except NoSolution as error:
        return _keep_none(machine, found, f"{NO_ORDINARY_USE} {error}", by=by, at=at), False
    fields = {"cover": cover, "measured": measured, "reason": ""}
    disagreements = contradictions(shown_from_dict(cover.shown), states)
    return _keep(machine, found, fields, disagreements, by=by, at=at), is_new


def _keep_none(machine, found, reason, *, by, at):
    return _keep(machine, found, {"cover": None, "measured": [], "reason": reason}, (), by=by, at=at)


def _cover_of(circuit, *, at, tell):
    digest = circuit_digest(circuit)
    kept = CircuitCover.objects.without_table().computed_by(rules()).filter(digest=digest).first()
    return (kept, False) if kept else (_compute_cover(circuit, digest, at=at, tell=tell), True)


def _compute_cover(circuit, digest, *, at, tell):
    computed = compute(circuit, tell)
    fields = {
        "title": circuit.title[:200],
        "parts": len(circuit.parts),
        "causes": computed.table.causes,
        "unsolved": len(computed.table.unsolved),
        "table": table_to_dict(computed.table),
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
        CoverHazard.objects.bulk_create(hazard_rows(cover, computed.table))
    return cover


@transaction.atomic
def _keep(machine, found, fields, disagreements, *, by, at):
    common = {"basis": found.basis[:200], "on": machine.site.date_of(at), "computed_at": at}
    kept, _ = MachineCover.objects.update_or_create(machine=machine, defaults=common | fields)
    tell_contradictions(machine, disagreements, by=by, at=at)
    return kept


def reason_without(found):
    """Say in words why a MachineCircuit has no cover."""
    if found.circuit is None and not found.problems:
        return f"{found.basis[:1].upper()}{found.basis[1:]}."
    return "\n".join(str(problem) for problem in found.problems[:20])


def remove_unused_covers(*, before):
    """Remove the covers that no machine has any more and that were computed before a moment. Return how many."""
    unused = list(CircuitCover.objects.unused_since(before).values_list("pk", flat=True)[:1000])
    CircuitCover.objects.filter(pk__in=unused, machines=None).delete()
    return len(unused)
