"""Which signed inspections can let a withdrawn machine back into service, and what speaks against one."""

from fleet.models import MachineStatus
from inspections.deciding.retests import not_retested, untested_after_work
from inspections.models import Finding, Inspection, Result, SeriousIncident


def reasons_against_release(machine, retest):
    """Say in one sentence each why `retest` does not let `machine` back into service; empty when it does.

    The retest must be signed after the withdrawal, must be complete and have no failed result. For every essential
    finding still open it must hold a plain pass for the same test, subject and result, and so for every essential step
    that an earlier inspection left untested; a fault report must be named as retested. What the components
    serve that were repaired or replaced since must have been tested.
    """
    reasons = []
    if machine.status != MachineStatus.WITHDRAWN:
        reasons.append(f"Machine {machine} is {machine.get_status_display().lower()}, not withdrawn from use.")
    reasons += [f"{one} is open. A second person has to close it first." for one in open_incidents(machine)]
    if retest.machine_id != machine.pk or not retest.is_signed:
        return [*reasons, f"{retest} is not a signed inspection of machine {machine}."]
    withdrawn = withdrawal_of(machine)
    if withdrawn and retest.signed_at <= withdrawn.recorded_at:
        reasons.append(
            f"{retest} was signed before machine {machine} was withdrawn from use. Sign a retest made since then."
        )
    results = list(Result.objects.that_decide(retest).select_related("step"))
    reasons += [f"{o.step}: {o.label.lower()} is a {o.decision} in {retest}." for o in results if o.is_failed]
    reasons += [
        f"{o.step}: {o.label.lower()} is {o.decision} in {retest}."
        for o in results
        if o.is_open and o.step.is_essential
    ]
    if not any(result.decision and not result.is_open for result in results):
        reasons.append(f"{retest} has no judged result.")
    return [*reasons, *_untested_steps(retest, must_be_settled(machine), results)]


def _untested_steps(retest, needed, results):
    """Name each step once that the retest would have had to test, with the first reason that holds."""
    named = {step.what: f"{step}: {_untested(step)} in {retest}." for step in retest.steps.essential_untested()}
    for what, why in untested_after_work(needed, retest).items():
        named.setdefault(what, f"{why} {retest} did not test it.")
    reasons = [(finding, not_retested(finding, retest, results)) for finding in needed]
    others = [why for finding, why in reasons if why and _step_of(finding) not in named]
    return [*named.values(), *others]


def _step_of(finding):
    return finding.repeated_step and finding.repeated_step.what


def _untested(step):
    why = f" ({step.not_tested_reason})" if step.not_tested_reason else ""
    return f"this essential step was not tested{why}"


def open_incidents(machine):
    """A serious incident holds the machine until it is closed."""
    return SeriousIncident.objects.open().filter(machine=machine).select_related("machine")


def withdrawal_of(machine):
    """The withdrawal in force, None for a machine that is not withdrawn."""
    return machine.status_change_in_force() if machine.status == MachineStatus.WITHDRAWN else None


def candidate_retests(machine):
    """Signed inspections since the last withdrawal, the newest first: what a release can rest on."""
    withdrawn = withdrawal_of(machine)
    signed = Inspection.objects.signed().filter(machine=machine)
    return signed.filter(signed_at__gt=withdrawn.recorded_at).order_by("-signed_at") if withdrawn else signed.none()


def essential_open(machine):
    """The essential findings that a release closes."""
    return _open_on(machine).essential()


def must_be_settled(machine):
    """What a release rests on: the essential findings, and the essential steps left untested."""
    return [*essential_open(machine), *_open_on(machine).exclude(severity="essential").of_untested()]


def closed_by_release(machine, retest):
    """The open findings that a release closes: the essential ones, and every other that its retest repeated and passed.

    What is open and not among them stays open.
    """
    results = list(Result.objects.that_decide(retest).select_related("step"))
    others = _open_on(machine).exclude(severity="essential").exclude(origin=Finding.Origin.CIRCUIT)
    return [*essential_open(machine), *(one for one in others if not not_retested(one, retest, results))]


def _open_on(machine):
    return Finding.objects.open().filter(machine=machine).select_related("result__step", "step")
