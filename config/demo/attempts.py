"""Inspections that did not happen, with what happened instead, and the codes of findings that were closed."""

from datetime import timedelta

from inspections.actions import code_finding, record_attempt
from inspections.models import Finding, FoundHow, Inspection

LEFT_UNCODED = 7  # every seventh closed finding
CODE_OF_REPORT = {
    "Castor of the trolley drags": "wear",
    "Oxygen flowmeter bobbin sticks at low flow": "evident-failure",
    "Drawer does not stay shut": "damage",
    "Bag mount loose": "repair-error",
    "Ventilator display dims after warm-up": "evident-failure",
    "Absorber latch stiff": "wear",
}
CODES_OF_RESULTS = ("drift", "wear", "silent-failure", "wear", "accessory")


def tell_attempts(write, people, *, at):
    """Record attempts at what is open the longest, and code what was closed; print what was recorded."""
    waiting = Inspection.objects.not_begun().filter(machine__status="in service")
    lost, in_use, *_ = [*waiting.with_place().order_by("closes_on", "pk")[:2], None, None]
    technician = people["technician2"]
    if lost:
        for days in (9, 2):
            record_attempt(lost, kind="not located", by=technician, at=at - timedelta(days=days))
    if in_use:
        record_attempt(in_use, kind="in use", reason="Emergency list", by=technician, at=at - timedelta(days=6))
        record_attempt(
            in_use, kind="deferred", reason="The other machine of the area is away.", decided_by="Theatre manager",
            until=at.date() + timedelta(days=12), by=people["planner"], at=at - timedelta(days=1),
        )  # fmt: skip
    coded = code_closed(by=people["technician3"], at=at)
    write(f"Attempts     not located twice: {lost and lost.machine}; deferred: {in_use and in_use.machine}; "
          f"{coded} closed findings bear a code")  # fmt: skip


def code_closed(*, by, at):
    """Code the closed findings but every seventh; return how many."""
    closed = list(Finding.objects.closed().of_faults().not_coded().order_by("pk"))
    coded = [finding for number, finding in enumerate(closed, 1) if number % LEFT_UNCODED]
    for finding in coded:
        code_finding(finding, by=by, at=at, **_coding_of(finding))
    return len(coded)


def _coding_of(finding):
    if finding.title in CODE_OF_REPORT:
        return {"code": CODE_OF_REPORT[finding.title], "found_how": FoundHow.USER_REPORT}
    if finding.origin == Finding.Origin.RESULT:
        return {"code": CODES_OF_RESULTS[finding.pk % len(CODES_OF_RESULTS)], "found_how": FoundHow.INSPECTION}
    return {"code": "no-fault", "found_how": FoundHow.INSPECTION}
