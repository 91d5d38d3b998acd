"""Who else is at work on an inspection, from the readings of the last minutes: nothing is written to know it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, Max

from fleet.models import Person
from fleet.place_format import current, day_text
from inspections.models import Inspection, Reading

RECENT = timedelta(minutes=15)
MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Other:
    """Somebody else at the bench and the whole minutes since the last sign of them."""

    person: Person
    minutes: int


def others_at(inspection, person, now):
    """Who but `person` opened it or entered a reading in it in the last minutes, the latest first; five at most."""
    recent = Reading.objects.filter(step__inspection=inspection, entered_at__gt=now - RECENT)
    last = dict(recent.exclude(entered_by=person).order_by().values_list("entered_by").annotate(Max("entered_at")))
    opener = inspection.opened_by_id
    if opener and opener != person.pk and inspection.opened_at > now - RECENT:
        last.setdefault(opener, inspection.opened_at)
    people = Person.objects.in_bulk(last) if last else {}
    latest = sorted(last, key=last.get, reverse=True)[:MOST_NAMED]
    return [Other(people[pk], max(0, int((now - last[pk]).total_seconds() // 60))) for pk in latest]


def bench_in_words(inspection):
    """Who started the inspection, when and how far it has come, in sentences; empty if it is not in progress."""
    found = Inspection.objects.in_progress().filter(pk=inspection.pk).select_related("opened_by").first()
    if found is None:
        return ""
    zone = ZoneInfo(inspection.machine.site.time_zone)
    opened = f"{found.opened_by} started it on {_shown(found.opened_at, zone)}"
    counted = Reading.objects.current().filter(step__inspection=found).aggregate(Count("pk"), Max("entered_at"))
    number, last = counted["pk__count"], counted["entered_at__max"]
    if not number:
        return f"{opened}. No reading has been entered yet."
    have = "has" if number == 1 else "have"
    readings = f"{number} reading{'' if number == 1 else 's'} {have} been entered"
    return f"{opened} and {readings}, the last on {_shown(last, zone)}."


def _shown(moment: datetime, zone):
    moment = moment.astimezone(zone)
    return f"{day_text(moment, current().day)} at {moment:%H:%M}"
