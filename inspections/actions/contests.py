"""Two readings for one place: the second, which was entered without the first being seen, waits for a choice."""

from django.db import transaction

from inspections.actions.asking import ask_about, close_questions_about
from inspections.actions.holding import hold_in_progress
from inspections.actions.replacing import record_replaced
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import Refused
from inspections.models import Reading


def came_between(standing, seen, by, token=None):
    """Whether `standing` was entered after the page of `by` was rendered, and that page did not show it.

    One's own reading counts as well: it may come from another row, page or device, and nobody saw the two together.
    A program corrects its own readings without naming them; it is somebody else than the person whose token it has.
    """
    if seen is NOT_TOLD or standing.pk == seen:
        return False
    return token is None or not standing.is_by(by, token)


def contest(standing, fields, *, by, at, token=None, typed_at=None):
    """Save a reading beside the current one; a repeated request does not save it twice."""
    again = Reading.objects.contested().filter(**fields, entered_by=by, token=token).first()
    said = {**fields, "entered_by": by, "entered_at": at, "typed_at": typed_at, "token": token}
    return again or Reading.objects.create(**said, contests=standing, superseded_at=at, superseded_by=by)


def settle_own(place, *, by, at, token=None):
    """Who enters another reading gives up the contested ones of their own in that place."""
    Reading.objects.contested().filter(**place, entered_by=by, token=token).update(settled_at=at, settled_by=by)


@transaction.atomic
def settle_contest(contested, *, stands, by, at):
    """Choose: `contested` becomes the current reading; with `stands` false the other one stays current.

    Neither row is deleted. Raise Refused if somebody has chosen already, RecordFrozen if the inspection is not in
    progress.
    """
    hold_in_progress(contested.step)
    open_one = Reading.objects.contested().filter(pk=contested.pk)
    if not open_one.exists():
        raise Refused(f"Somebody has already decided about {contested}. Check the current reading.")
    if stands:
        place = {name: getattr(contested, name) for name in ("step", "field", "row", "column")}
        stood = Reading.objects.current().filter(**place).select_related("instrument", "entered_by", "token").first()
        Reading.objects.current().filter(**place).update(superseded_at=at, superseded_by=by)
        if stood:
            record_replaced(contested.step, stood, contested, by=by, at=at)
            close_questions_about(stood, contested, by=by, at=at)
        open_one.update(superseded_at=None, superseded_by=None, settled_at=at, settled_by=by)
        ask_about(contested.step, contested, by=by, at=at)
    else:
        open_one.update(settled_at=at, settled_by=by)
    contested.refresh_from_db()
