"""The marks that say who left a step untested, why and when. They are added and undone, never removed."""

from fleet.changes import record_created, recording
from inspections.models import NotTestedMark


def add_mark(step, reason, *, by, at):
    """Store who gave the reason; the same reason given again leaves the first mark in force."""
    if step.not_tested_marks.in_force().exists():
        return
    mark = NotTestedMark.objects.create(step=step, reason=reason, by=by, at=at)
    record_created([mark], by=by, at=at)


def undo_mark(step, reason, *, by, at):
    """Store who undid the mark in force.

    reason  what the step says; a step from before marks were stored gets its mark now, without an author
    """
    mark = step.not_tested_marks.in_force().first() or NotTestedMark.objects.create(step=step, reason=reason)
    with recording(mark, by=by, at=at):
        NotTestedMark.objects.filter(pk=mark.pk).update(undone_by=by, undone_at=at)
