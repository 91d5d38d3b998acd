"""The one place where a stage changes: compare-and-set in the database, along the allowed paths only."""

from fleet.changes import recording
from inspections.errors import StageRefused
from inspections.models import Inspection
from inspections.models.inspections import NEXT_STAGES, stage_in_words


def change_stage(inspection, to, *, by, at, error=StageRefused, out_of=None, **fields):
    """Move `inspection` to stage `to` and write `fields` with it, keeping who, when, before and after.

    `out_of` narrows the stages that it may be moved out of. Raise `error` if the stage does not allow it.
    """
    allowed = [
        stage for stage, following in NEXT_STAGES.items() if to in following and stage in (out_of or NEXT_STAGES)
    ]
    with recording(inspection, by=by, at=at):
        if not Inspection.objects.filter(pk=inspection.pk, stage__in=allowed).update(stage=to, **fields):
            now = Inspection.objects.values_list("stage", flat=True).get(pk=inspection.pk)
            accepted = " or ".join(map(stage_in_words, allowed))
            raise error(
                f"{inspection} is {stage_in_words(now)}; only one that is {accepted} can become {stage_in_words(to)}."
            )
    inspection.refresh_from_db()
