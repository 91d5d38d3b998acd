"""Return a withdrawn machine to service: only on a signed passing retest of what failed."""

from django.db import transaction

from fleet.actions import return_machine_to_service
from fleet.changes import recording
from fleet.models import Machine
from inspections.deciding.release import closed_by_release, essential_open, reasons_against_release
from inspections.deciding.release_effects import closing_note
from inspections.deciding.repair_people import refuse_repairers
from inspections.deciding.second_person import refuse_alone, why_second_for_release
from inspections.errors import ReleaseRefused
from inspections.models import Finding, Inspection

REASON_LENGTH = 300


@transaction.atomic
def release_machine(machine, *, retest, reason, by, at, proposed_by=None):
    """Return the machine to service on the evidence of `retest`, and close the findings it retested.

    Raise ReleaseRefused with every reason against it, SecondPersonNeeded where one person may not decide it alone.
    """
    hold_release(machine, retest)
    if not reason.strip():
        raise ReleaseRefused([f"State why machine {machine} can be used again and what was corrected."])
    retested = list(essential_open(machine))  # one opened from now on stays open
    closed = closed_by_release(machine, retest)
    reasons = reasons_against_release(machine, retest)
    if reasons:
        raise ReleaseRefused(reasons)
    refuse_alone(why_second_for_release(machine, retest, retested, by), by=by, proposed_by=proposed_by)
    refuse_repairers(machine, retest, by=by, proposed_by=proposed_by)
    _close(closed, machine, retest, reason, by=by, at=at)
    why = f"Retest passed: {retest}. {reason}"[:REASON_LENGTH]
    return return_machine_to_service(machine, by=by, at=at, reason=why, evidence=str(retest))


def _close(findings, machine, retest, reason, *, by, at):
    """Close each finding with a note that names it. One that somebody closed meanwhile keeps its own note."""
    still_open = Finding.objects.open().filter(pk__in=[finding.pk for finding in findings])
    with recording(*still_open, by=by, at=at):
        for finding in findings:
            note = closing_note(finding, machine, retest, reason)
            Finding.objects.open().filter(pk=finding.pk).update(closed_at=at, closed_by=by, closing_note=note)


def hold_release(machine, retest):
    """Lock machine and retest until the transaction ends, and reload the machine.

    A finding that somebody opens meanwhile waits for the lock on its machine, an amendment for that on the retest.
    """
    Machine.objects.select_for_update(no_key=True).get(pk=machine.pk)
    Inspection.objects.select_for_update(no_key=True).get(pk=retest.pk)
    machine.refresh_from_db()
