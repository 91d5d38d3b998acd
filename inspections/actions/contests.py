"""Two people, one place: what came second unseen is kept beside what stands, until somebody chooses between the two."""

from django.db import transaction

from inspections.actions.holding import hold_on_bench
from inspections.actions.replacing import record_replaced
from inspections.errors import Refused
from inspections.models import Reading
from inspections.seen import NOT_TOLD


def came_between(standing, seen, by, token=None):
    """Whether somebody else entered `standing` after the page was laid out that `by` acts on.

    One's own reading never does: its answer may have been lost on the way. A program is somebody else than the person
    whose token it has.
    """
    return seen is not NOT_TOLD and standing.pk != seen and not standing.is_by(by, token)


def contest(standing, fields, *, by, at, token=None):
    """Keep a reading beside the one that stands; sent again it is not kept twice."""
    again = Reading.objects.contested().filter(**fields, entered_by=by, token=token).first()
    return again or Reading.objects.create(
        **fields, entered_by=by, token=token, entered_at=at, contests=standing, superseded_at=at, superseded_by=by
    )


def settle_own(place, *, by, at, token=None):
    """Who enters another reading gives up the contested ones of their own in that place."""
    Reading.objects.contested().filter(**place, entered_by=by, token=token).update(settled_at=at, settled_by=by)


@transaction.atomic
def settle_contest(contested, *, stands, by, at):
    """Choose: `contested` stands from now on, or with `stands` false it does not, and what stood goes on standing.

    Neither is taken out of the table. Raise Refused if somebody chose already, RecordFrozen off the bench.
    """
    hold_on_bench(contested.step)
    open_one = Reading.objects.contested().filter(pk=contested.pk)
    if not open_one.exists():
        raise Refused(f"Somebody has already decided about {contested}. Check the current reading.")
    if stands:
        place = {name: getattr(contested, name) for name in ("step", "field", "row", "column")}
        stood = Reading.objects.current().filter(**place).select_related("instrument", "entered_by", "token").first()
        Reading.objects.current().filter(**place).update(superseded_at=at, superseded_by=by)
        if stood:
            record_replaced(contested.step, stood, contested, by=by, at=at)
        open_one.update(superseded_at=None, superseded_by=None, settled_at=at, settled_by=by)
    else:
        open_one.update(settled_at=at, settled_by=by)
    contested.refresh_from_db()
