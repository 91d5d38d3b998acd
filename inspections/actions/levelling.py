"""Spread the first due dates of machines that were never inspected over the interval."""

from django.db import transaction

from fleet.changes import correction_entries
from fleet.models import ChangeEntry
from fleet.web.at_site import day_words
from fleet.work_progress import tell_nobody
from inspections.errors import GroundsChanged, Refused
from inspections.models import Inspection
from inspections.models.querysets.inspections import due_window
from inspections.schedule.levelling import LEVELLED, first_inspections, levelled

BATCH = 500


@transaction.atomic
def level_first_inspections(*, today, by, at, number=None, tell=tell_nobody):
    """Give every first inspection that `by` may see its levelled due date. Return how many.

    number  of inspections that the page showed; raise GroundsChanged if there are others now, Refused for none
    tell    function of what is done, the total and words, called before each part of the work
    """
    chosen = first_inspections(by, today)
    held = list(Inspection.objects.select_for_update(no_key=True).filter(pk__in=chosen.values("pk")).order_by("pk"))
    if not held:
        raise Refused("No first inspection waits to be levelled: each is booked, overdue, done or levelled already.")
    if number is not None and number != len(held):
        raise GroundsChanged([f"{len(held)} inspections would be levelled now, not {number}."])
    tell(0, 3, "Ranking the machines")
    dates = levelled(chosen, today)
    tell(1, 3, "Spreading the due dates")
    changes = [(one.inspection, _fields(one)) for one in dates]
    entries = correction_entries(changes, by=by, at=at)
    for inspection, fields in changes:
        for name, value in fields.items():
            setattr(inspection, name, value)
    Inspection.objects.bulk_update(
        [inspection for inspection, _ in changes], ["due_on", "opens_on", "closes_on", "note"], batch_size=BATCH
    )
    tell(2, 3, "Writing who changed what")
    ChangeEntry.objects.bulk_create(entries, batch_size=BATCH)
    return len(dates)


def _fields(one):
    opens_on, closes_on = due_window(one.due_on, one.inspection.procedure.window_days)
    note = f"{LEVELLED}: due {day_words(one.inspection.due_on)} before. {one.inspection.note}"[:300].strip()
    return {"due_on": one.due_on, "opens_on": opens_on, "closes_on": closes_on, "note": note}
