"""What comes after a signature, in order: findings, withdrawal, label, retest, release, countersignature, next date.

Each step says what is to be done. Whoever may do it gets an address and a label for it; everybody else is told who may.
"""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from fleet.models import MachineStatus
from fleet.web.at_site import day_words
from inspections.deciding.release import candidate_retests, closed_by_release, essential_open, reasons_against_release
from inspections.deciding.second_person import why_second_for_release
from inspections.models import Finding, Inspection, Stage

REASON_LENGTH = 300
LOOKED_AT = 3  # retests since the withdrawal, the newest first


@dataclass(frozen=True, slots=True)
class NextStep:
    """One step. `url` and `label` are empty for whoever may not do it; `links` are (words, address) within it.

    is_due  whether it is left to do; the label and the date of the next inspection are only offered
    """

    kind: str
    says: str
    url: str = ""
    label: str = ""
    links: tuple = ()
    is_due: bool = True
    is_urgent: bool = False


@dataclass(frozen=True, slots=True)
class WayOn:
    """The steps after one signature; `is_shown` is false for an older record about which nothing is left to do."""

    steps: list
    is_done: bool
    is_shown: bool


@dataclass(frozen=True, slots=True)
class _Standing:
    """What is so now: findings that the inspection opened or was to repeat and that are open, and the way to release.

    planned  open inspections that repeat some of them, with the keys of those
    left     those that neither one of these nor the release on `passed` takes care of
    """

    concerned: list
    planned: list
    passed: Inspection | None
    left: list


def way_on(inspection, person, *, findings):
    """Return what comes after the signature of `inspection` for `person`; `findings` are those that it opened."""
    machine = inspection.machine
    now = _standing(inspection, findings)
    steps = [*_findings(findings), *_withdrawal(inspection, person, now), *_label(machine)]
    steps += [*_retest(machine, person, now), *_release(machine, person, now)]
    steps += [*_countersignature(inspection, person), *_next_date(machine, person, now)]
    is_done = not any(step.is_due for step in steps)
    return WayOn(steps, is_done, not is_done or _is_newest(inspection))


def _standing(inspection, findings):
    machine = inspection.machine
    repeated = [finding for finding in inspection.retests.all() if finding.is_open]
    concerned = list({one.pk: one for one in [*findings, *repeated] if one.is_open}.values())
    is_out = machine.status == MachineStatus.WITHDRAWN
    passed = _passing_retest(machine) if is_out else None
    settled = {one.pk for one in closed_by_release(machine, passed)} if passed else set()
    planned = _planned(inspection, concerned) if concerned and machine.status != MachineStatus.RETIRED else []
    covered = {pk for _, pks in planned for pk in pks}
    left = [one for one in concerned if one.pk not in covered | settled]
    return _Standing(concerned, planned, passed, left)


def _planned(inspection, concerned):
    """The open inspections that repeat some of the findings, with the keys of those.

    What an incomplete inspection left untested is repeated by the next one of its procedure too.
    """
    keys = {finding.pk for finding in concerned}
    retests = Inspection.objects.retesting().filter(machine=inspection.machine).prefetch_related("retests")
    planned = [(one, keys & {finding.pk for finding in one.retests.all()}) for one in retests]
    untested = {finding.pk for finding in concerned if finding.step_id}
    if untested:
        again = Inspection.objects.open().filter(
            machine=inspection.machine, procedure=inspection.procedure, retests=None
        )
        planned += [(one, untested) for one in again[:1]]
    return [(one, pks) for one, pks in planned if pks]


def _passing_retest(machine):
    for retest in candidate_retests(machine).select_related("procedure")[:LOOKED_AT]:
        if not reasons_against_release(machine, retest):
            return retest
    return None


def _findings(findings):
    still_open = [finding for finding in findings if finding.is_open]
    if still_open:
        are = "finding of this inspection is open" if len(still_open) == 1 else "findings of this inspection are open"
        yield NextStep("findings", f"{len(still_open)} {are}:", links=_links(still_open))


def _withdrawal(inspection, person, now):
    machine = inspection.machine
    essential = [finding for finding in now.concerned if finding.is_essential]
    if not essential or machine.status != MachineStatus.IN_SERVICE:
        return
    awaiting = Finding.objects.awaiting_withdrawal().filter(pk__in=[finding.pk for finding in essential])
    essential = list(awaiting.select_related("result__step"))
    if not essential:
        return
    says = f"Machine {machine} has an open essential finding and is still in service. Nobody should use it."
    if person.has_perm("fleet.withdraw_machine"):
        reason = "; ".join(str(finding) for finding in essential)[:REASON_LENGTH]
        query = urlencode({"reason": reason, "evidence": str(inspection)})
        url = f"{reverse('fleet:machine_withdraw', args=[machine.pk])}?{query}"
        yield NextStep("withdraw", says, url, f"Withdraw machine {machine}", is_urgent=True)
    else:
        yield NextStep("withdraw", f"{says} Tell a technician or a planner, who can withdraw it.", is_urgent=True)


def _label(machine):
    if machine.status != MachineStatus.RETIRED:
        url = reverse("inspections:label_pdf", args=[machine.pk])
        yield NextStep("label", f"Print the label for machine {machine}.", url, "Label", is_due=False)


def _retest(machine, person, now):
    for retest, _ in now.planned:
        says = f"{retest} repeats what was found. It is {retest.stage_word}, due {day_words(retest.due_on)}."
        yield NextStep("retest", says, retest.get_absolute_url(), f"Open {retest}")
    if not now.left or machine.status == MachineStatus.RETIRED:
        return
    says = "No retest is planned for:"
    if person.has_perm("inspections.close_finding"):
        url = reverse("inspections:retest_plan", args=[machine.pk])
        yield NextStep("retest", says, url, "Plan the retest", links=_links(now.left))
    else:
        yield NextStep("retest", "A technician or a planner plans the retest of:", links=_links(now.left))


def _release(machine, person, now):
    if machine.status != MachineStatus.WITHDRAWN or not (now.passed or now.concerned):
        return
    url = reverse("inspections:release", args=[machine.pk])
    if now.passed is None:
        says = f"Machine {machine} stays withdrawn from use until a retest passes and a person releases it."
        yield NextStep("release", says, url, "See what prevents a release")
        return
    says = f"{now.passed} passed: machine {machine} can be returned to service."
    if person.has_perm("fleet.release_machine"):
        needs_second = why_second_for_release(machine, now.passed, list(essential_open(machine)), person)
        yield NextStep("release", says, url, f"{'Propose to release' if needs_second else 'Release'} machine {machine}")
    else:
        yield NextStep("release", f"{says} A technician decides about it.")


def _countersignature(inspection, person):
    if inspection.stage != Stage.SIGNED:
        return
    if person.has_perm("inspections.countersign_inspection") and inspection.signed_by_id != person.pk:
        url = reverse("inspections:countersign", args=[inspection.pk])
        yield NextStep("countersign", f"{inspection} waits for a countersignature.", url, "Countersign")
    else:
        says = f"{inspection} waits for a countersignature by a technician or a planner other than the signer."
        yield NextStep("countersign", says)


def _next_date(machine, person, now):
    if machine.status == MachineStatus.RETIRED:
        return
    planned = Inspection.objects.open().filter(machine=machine, retests=None).select_related("procedure")
    following = planned.order_by("due_on", "pk").first()
    if following in [one for one, _ in now.planned]:
        return
    if following:
        says = f"The next inspection is due {day_words(following.due_on)}: {following.procedure}."
        yield NextStep("next", says, following.get_absolute_url(), f"Open {following}", is_due=False)
    elif person.has_perm("inspections.plan_inspection"):
        url = reverse("inspections:plan", args=[machine.pk])
        yield NextStep("next", "No further inspection is planned.", url, "Plan an inspection", is_due=False)
    else:
        yield NextStep("next", "No further inspection is planned. A planner plans it.", is_due=False)


def _is_newest(inspection):
    later = Inspection.objects.signed().filter(machine=inspection.machine_id, signed_at__gt=inspection.signed_at)
    return not later.exists()


def _links(findings):
    return tuple((str(finding), finding.get_absolute_url()) for finding in findings)
