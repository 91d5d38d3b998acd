"""What a technician notes at a step beside its readings: the remark, and photographs. All of it until the signature."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.photographs import PhotographRefused
from inspections.actions.holding import hold_in_progress
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import RemarkContested
from inspections.models import Photograph, StepRemark
from inspections.models.step_notes import MOST_PHOTOGRAPHS


@transaction.atomic
def write_remark(step, text, *, by, at, seen=NOT_TOLD):
    """Store the remark of a step; an empty text takes it back. Return it, None for a step that never had one.

    seen  `at` of the remark that the page showed, as ISO text; empty where it showed none

    Raise RemarkContested if somebody else wrote one meanwhile, RecordFrozen if the inspection is not in progress. One's
    own is replaced unseen: it may be the answer to it that was lost, and the changes hold it.
    """
    hold_in_progress(step)
    text, stored = text.strip(), StepRemark.objects.filter(step=step).select_related("by").first()
    if text == (stored.text if stored else ""):
        return stored
    if stored is None:
        stored = StepRemark.objects.create(step=step, text=text, by=by, at=at)
        record_created([stored], by=by, at=at)
        return stored
    if seen is not NOT_TOLD and seen != stored.at.isoformat() and stored.by_id != by.pk:
        raise RemarkContested(stored)
    with recording(stored, by=by, at=at):
        StepRemark.objects.filter(pk=stored.pk).update(text=text, by=by, at=at)
    stored.refresh_from_db()
    return stored


@transaction.atomic
def add_photograph(step, clean, *, by, at, caption=""):
    """Store a CleanPhotograph at a step. One that is there already is returned, so that it can be sent again.

    Raise PhotographRefused for one too many, RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(step)
    there = step.photographs.in_place()
    if same := there.filter(digest=clean.digest).first():
        return same
    if there.count() >= MOST_PHOTOGRAPHS:
        raise PhotographRefused(
            f"{step} has {MOST_PHOTOGRAPHS} photographs already, which is the most that one step takes. Remove one to "
            "make room. Nothing was saved."
        )
    photograph = Photograph.of_clean(clean, step=step, caption=caption.strip(), by=by, at=at)
    photograph.save(force_insert=True)
    record_created([photograph], by=by, at=at)
    return photograph


@transaction.atomic
def caption_photograph(photograph, caption, *, by, at):
    """Say in words what a photograph of a step shows. Raise RecordFrozen if the inspection is not in progress."""
    hold_in_progress(photograph.step)
    with recording(photograph, by=by, at=at):
        _in_place(photograph).update(caption=caption.strip())


@transaction.atomic
def remove_photograph(photograph, *, by, at):
    """Delete the picture of a photograph of a step; its row stays and says who removed it and when.

    One that was removed already stays so. Raise RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(photograph.step)
    with recording(photograph, by=by, at=at):
        _in_place(photograph).update(content=None, preview=None, removed_by=by, removed_at=at)


def _in_place(photograph):
    return Photograph.objects.in_place().filter(pk=photograph.pk)
