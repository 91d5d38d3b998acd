"""Withdraw a machine from use, return it, retire it. Each is compare-and-set: only one of two people can do it."""

from django.db import transaction

from fleet.changes import recording
from fleet.errors import StatusRefused
from fleet.models import MachineStatus, StatusChange, Machine


def withdraw_machine(machine, *, by, at, reason, evidence=""):
    """Withdraw a machine from use. Raise StatusRefused if it is not in service any more."""
    return _change_status(machine, {MachineStatus.IN_SERVICE}, MachineStatus.WITHDRAWN, by=by, at=at, reason=reason, evidence=evidence)


def return_machine_to_service(machine, *, by, at, reason, evidence):
    """Return a withdrawn machine to service. `inspections.actions.release_machine` checks the retest first."""
    return _change_status(machine, {MachineStatus.WITHDRAWN}, MachineStatus.IN_SERVICE, by=by, at=at, reason=reason, evidence=evidence)


def retire_machine(machine, *, by, at, reason, evidence=""):
    """Retire a machine for good; its records stay."""
    allowed = {MachineStatus.IN_SERVICE, MachineStatus.WITHDRAWN}
    return _change_status(machine, allowed, MachineStatus.RETIRED, by=by, at=at, reason=reason, evidence=evidence)


def _words(status):
    return dict(MachineStatus.choices).get(status, status).lower()


@transaction.atomic
def _change_status(machine, allowed, status, *, by, at, reason, evidence):
    if not reason.strip():
        raise StatusRefused(f"A change of status needs a reason. Enter why machine {machine} becomes {_words(status)}.")
    with recording(machine, by=by, at=at):
        if not Machine.objects.filter(pk=machine.pk, status__in=allowed).update(status=status):
            machine.refresh_from_db(fields=["status"])
            raise StatusRefused(
                f"Machine {machine} is {_words(machine.status)}; "
                f"only a machine that is {' or '.join(map(_words, sorted(allowed)))} can become {_words(status)}."
            )
    machine.status = status
    return StatusChange.objects.create(
        machine=machine,
        status=status,
        changed_on=machine.site.date_of(at),
        reason=reason.strip(),
        evidence=evidence,
        by=by,
        recorded_at=at,
    )
