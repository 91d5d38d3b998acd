"""Findings about what a machine's gas circuit and its record of protections disagree on."""

from django.db import transaction

from fleet.catalogue import get_feature
from fleet.changes import record_created, recording
from fleet.models import Machine
from inspections.models import Finding, Severity

GONE = "The circuit and the record now agree."


@transaction.atomic
def settle_contradictions(machine, contradictions, *, by, at):
    """Open a finding for each contradiction that has none, and close those whose contradiction is gone.

    One that a person closed is decided: it is not opened again while record and circuit say the same as then. None is
    essential: whether the machine may be used is for whoever looks at it. Return the findings opened.
    """
    # Held, so that two who compute the same machine cannot both open one.
    Machine.objects.select_for_update(no_key=True).get(pk=machine.pk)
    there = {key_of(each): each for each in contradictions}
    known = Finding.objects.of_circuit().filter(machine=machine)
    _close_gone(known.open().exclude(contradiction__in=there), by=by, at=at)
    standing = known.open() | known.closed().filter(closed_by__isnull=False)
    settled = set(standing.values_list("contradiction", flat=True))
    opened = [_finding(machine, key, each, by, at) for key, each in there.items() if key not in settled]
    created = Finding.objects.bulk_create(opened)
    record_created(created, by=by, at=at)
    return created


def key_of(contradiction):
    """What makes two contradictions of a machine the same: the protection, and what record and circuit say."""
    return f"{contradiction.feature}: {contradiction.recorded}, {contradiction.shown}"


def _close_gone(findings, *, by, at):
    gone = list(findings)
    with recording(*gone, by=by, at=at):
        Finding.objects.open().filter(pk__in=[one.pk for one in gone]).update(closed_at=at, closing_note=GONE)


def _finding(machine, key, contradiction, by, at):
    name = get_feature(contradiction.feature).name
    return Finding(
        machine=machine,
        origin=Finding.Origin.CIRCUIT,
        severity=Severity.OTHER,
        contradiction=key,
        title=f"{name}: recorded as {contradiction.recorded}, the circuit shows {contradiction.shown}"[:200],
        description=f"{contradiction}\n\nInspect the machine, then correct the record or the circuit.",
        opened_by=by,
        opened_at=at,
    )
