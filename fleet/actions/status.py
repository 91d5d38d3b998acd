"""Withdraw a machine from use, return it, retire it. Each is compare-and-set: only one of two people can do it."""

from django.db import transaction

from fleet.changes import recording
from fleet.errors import DutyRefused
from fleet.models import Duty, DutyChange, Machine


def withdraw_machine(machine, *, by, at, reason, evidence=""):
    """Withdraw a machine from use. Raise DutyRefused if it is not in service any more."""
    return _change_duty(machine, {Duty.IN_SERVICE}, Duty.WITHDRAWN, by=by, at=at, reason=reason, evidence=evidence)


def return_machine_to_service(machine, *, by, at, reason, evidence):
    """Return a withdrawn machine to service. `inspections.actions.release_machine` checks the retest first."""
    return _change_duty(machine, {Duty.WITHDRAWN}, Duty.IN_SERVICE, by=by, at=at, reason=reason, evidence=evidence)


def retire_machine(machine, *, by, at, reason, evidence=""):
    """Retire a machine for good; its records stay."""
    allowed = {Duty.IN_SERVICE, Duty.WITHDRAWN}
    return _change_duty(machine, allowed, Duty.RETIRED, by=by, at=at, reason=reason, evidence=evidence)


def _words(duty):
    return dict(Duty.choices).get(duty, duty).lower()


@transaction.atomic
def _change_duty(machine, allowed, duty, *, by, at, reason, evidence):
    if not reason.strip():
        raise DutyRefused(f"A change of status needs a reason. Enter why machine {machine} becomes {_words(duty)}.")
    with recording(machine, by=by, at=at):
        if not Machine.objects.filter(pk=machine.pk, duty__in=allowed).update(duty=duty):
            machine.refresh_from_db(fields=["duty"])
            raise DutyRefused(
                f"Machine {machine} is {_words(machine.duty)}; "
                f"only a machine that is {' or '.join(map(_words, sorted(allowed)))} can become {_words(duty)}."
            )
    machine.duty = duty
    return DutyChange.objects.create(
        machine=machine,
        duty=duty,
        changed_on=machine.site.date_of(at),
        reason=reason.strip(),
        evidence=evidence,
        by=by,
        recorded_at=at,
    )
