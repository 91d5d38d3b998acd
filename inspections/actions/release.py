"""Return a withdrawn machine to service: only on a signed passing retest of what failed."""

from django.db import transaction

from fleet.actions import return_machine_to_service
from fleet.changes import recording
from fleet.models import Duty, DutyChange, Machine
from inspections.errors import ReleaseRefused
from inspections.models import Finding, Inspection, Outcome
from inspections.retests import not_retested
from inspections.second_person import refuse_alone, why_second_for_release

REASON_LENGTH = 300


def reasons_against_release(machine, retest):
    """Say in one sentence each why `retest` does not let `machine` back into service; empty when it does.

    The retest must be signed after the withdrawal, must have no failed outcome, and for every essential finding still
    open must hold a plain pass for the same test, subject and result; a fault report must be named as retested.
    """
    reasons = []
    if machine.duty != Duty.WITHDRAWN:
        reasons.append(f"Machine {machine} is {machine.get_duty_display().lower()}, not withdrawn from use.")
    if retest.machine_id != machine.pk or not retest.is_signed:
        return [*reasons, f"{retest} is not a signed inspection of machine {machine}."]
    withdrawn = DutyChange.objects.filter(machine=machine, duty=Duty.WITHDRAWN).first()
    if withdrawn and retest.signed_at <= withdrawn.recorded_at:
        reasons.append(
            f"{retest} was signed before machine {machine} was withdrawn from use. Sign a retest made since then."
        )
    outcomes = list(Outcome.objects.filter(step__inspection=retest).select_related("step"))
    reasons += [f"{o.step}: {o.label.lower()} is a {o.decision} in {retest}." for o in outcomes if o.is_failed]
    if not any(outcome.decision for outcome in outcomes):
        reasons.append(f"{retest} has no judged result.")
    return reasons + [reason for f in essential_open(machine) if (reason := not_retested(f, retest, outcomes))]


@transaction.atomic
def release_machine(machine, *, retest, reason, by, at, proposed_by=None):
    """Return the machine to service on the evidence of `retest`, and close the essential findings it retested.

    Raise ReleaseRefused with every reason against it, SecondPersonNeeded where one person may not decide it alone.
    """
    hold_release(machine, retest)
    if not reason.strip():
        raise ReleaseRefused([f"State why machine {machine} can be used again and what was corrected."])
    retested = list(essential_open(machine))  # one opened from now on stays open
    reasons = reasons_against_release(machine, retest)
    if reasons:
        raise ReleaseRefused(reasons)
    refuse_alone(why_second_for_release(machine, retest, retested, by), by=by, proposed_by=proposed_by)
    findings = Finding.objects.open().filter(pk__in=[finding.pk for finding in retested])
    with recording(*findings, by=by, at=at):
        findings.update(closed_at=at, closed_by=by, closing_note=f"{retest} passed. {reason}".strip())
    why = f"Retest passed: {retest}. {reason}"[:REASON_LENGTH]
    return return_machine_to_service(machine, by=by, at=at, reason=why, evidence=str(retest))


def hold_release(machine, retest):
    """Lock machine and retest until the transaction ends, and reload the machine.

    A finding that somebody opens meanwhile waits for the lock on its machine, an amendment for that on the retest.
    """
    Machine.objects.select_for_update().get(pk=machine.pk)
    Inspection.objects.select_for_update().get(pk=retest.pk)
    machine.refresh_from_db()


def candidate_retests(machine):
    """Signed inspections since the last withdrawal, the newest first: what a release can rest on."""
    withdrawn = DutyChange.objects.filter(machine=machine, duty=Duty.WITHDRAWN).first()
    signed = Inspection.objects.signed().filter(machine=machine)
    return signed.filter(signed_at__gt=withdrawn.recorded_at).order_by("-signed_at") if withdrawn else signed.none()


def essential_open(machine):
    """The essential findings that a release closes."""
    return Finding.objects.open().essential().filter(machine=machine).select_related("outcome__step")
