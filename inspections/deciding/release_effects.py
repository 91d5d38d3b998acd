"""What a release did: which findings it closed, and which stay open, by name."""

from inspections.deciding.release import closed_by_release
from inspections.models import Finding


def findings_after_release(machine, retest):
    """Return what a release on `retest` would close, and what would stay open, for a page to name before it is done."""
    closes = closed_by_release(machine, retest)
    still_open = Finding.objects.open().filter(machine=machine)
    return {"closes": closes, "leaves_open": [finding for finding in still_open if finding not in closes]}


def closing_note(finding, machine, retest, reason):
    """Return the note with which a release closes a finding."""
    return f"“{finding}” is closed with the release of machine {machine}: {retest} passed. {reason}".strip()


def release_in_words(machine, retest):
    """Say after the release of `machine` on `retest` what was closed with it, and what stays open."""
    change = machine.status_change_in_force()
    findings = Finding.objects.filter(machine=machine).order_by("pk")
    closed = findings.filter(closed_at=change.recorded_at) if change else findings.none()
    sentences = [f"Machine {machine} is back in service, based on {retest}."]
    sentences += _named("Closed", closed) + _named("Still open", findings.open())
    return " ".join(sentences)


def _named(what, findings):
    names = [f"“{finding}”" for finding in findings]
    return [f"{what}: {', '.join(names)}."] if names else []
