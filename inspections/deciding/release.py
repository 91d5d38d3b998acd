"""Which signed inspections can let a withdrawn machine back into service, and what speaks against one."""

from fleet.models import MachineStatus, StatusChange
from inspections.deciding.retests import not_retested
from inspections.models import Finding, Inspection, Result


def reasons_against_release(machine, retest):
    """Say in one sentence each why `retest` does not let `machine` back into service; empty when it does.

    The retest must be signed after the withdrawal, must have no failed result, and for every essential finding still
    open must hold a plain pass for the same test, subject and result; a fault report must be named as retested.
    """
    reasons = []
    if machine.status != MachineStatus.WITHDRAWN:
        reasons.append(f"Machine {machine} is {machine.get_status_display().lower()}, not withdrawn from use.")
    if retest.machine_id != machine.pk or not retest.is_signed:
        return [*reasons, f"{retest} is not a signed inspection of machine {machine}."]
    withdrawn = StatusChange.objects.filter(machine=machine, status=MachineStatus.WITHDRAWN).first()
    if withdrawn and retest.signed_at <= withdrawn.recorded_at:
        reasons.append(
            f"{retest} was signed before machine {machine} was withdrawn from use. Sign a retest made since then."
        )
    results = list(Result.objects.filter(step__inspection=retest).select_related("step"))
    reasons += [f"{o.step}: {o.label.lower()} is a {o.decision} in {retest}." for o in results if o.is_failed]
    reasons += [
        f"{o.step}: {o.label.lower()} is {o.decision} in {retest}."
        for o in results
        if o.is_open and o.step.is_essential
    ]
    if not any(result.decision and not result.is_open for result in results):
        reasons.append(f"{retest} has no judged result.")
    return reasons + [reason for f in essential_open(machine) if (reason := not_retested(f, retest, results))]


def candidate_retests(machine):
    """Signed inspections since the last withdrawal, the newest first: what a release can rest on."""
    withdrawn = StatusChange.objects.filter(machine=machine, status=MachineStatus.WITHDRAWN).first()
    signed = Inspection.objects.signed().filter(machine=machine)
    return signed.filter(signed_at__gt=withdrawn.recorded_at).order_by("-signed_at") if withdrawn else signed.none()


def essential_open(machine):
    """The essential findings that a release closes."""
    return Finding.objects.open().essential().filter(machine=machine).select_related("result__step")
