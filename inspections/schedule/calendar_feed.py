"""The bookings of a technician or an area as a calendar: RFC 5545, read by any calendar program."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from icalendar import Calendar, Event

from inspections.models import CalendarFeed, FeedEvent, Inspection
from inspections.models.querysets.inspections import SIGNED_STAGES
from inspections.schedule.usual_minutes import usual_minutes

START = time(8)  # of the first inspection of a day, at its site; common practice, no source
PAST_DAYS = 31
YEAR = timedelta(days=366)
MOST = 2000


@dataclass(frozen=True, slots=True)
class Slot:
    starts_at: datetime
    minutes: int


@transaction.atomic
def feed_as_ical(feed, *, today, at):
    """Return the calendar of a feed as bytes, and note what it says, so that the next one tells what has changed.

    Signed work stays as it was; what is booked for another day, another person or not at all any more is moved or
    cancelled. Events older than PAST_DAYS are left out.
    """
    CalendarFeed.objects.select_for_update().get(pk=feed.pk)
    since = today - timedelta(days=PAST_DAYS)
    slots = _slots(feed, since)
    events = _events(feed, since, slots, at)
    inspections = Inspection.objects.with_place().in_bulk([event.inspection_id for event in events])
    calendar = Calendar()
    calendar.add("prodid", "-//Bobbin//Bookings//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", _on_one_line(f"Inspections: {feed.person or feed.area}"))
    for event in events:
        calendar.add_component(_component(event, inspections[event.inspection_id]))
    last = max((event.starts_at.date() for event in events), default=today)
    _add_zones(calendar, since - YEAR, last + YEAR)
    return calendar.to_ical()


def _add_zones(calendar, first, last):
    """Describe each time zone with one change of the clocks in each RDATE: some readers take only the first."""
    calendar.add_missing_timezones(first_date=first, last_date=last)
    for part in [part for zone in calendar.timezones for part in zone.subcomponents]:
        for moment in part.pop("RDATE").dts if "RDATE" in part else ():
            part.add("rdate", [moment.dt])


def _slots(feed, since):
    """Return the Slot of each booking by the key of its inspection: one after the other on each day of a technician."""
    of_feed = {"technician": feed.person_id} if feed.person_id else {"machine__area": feed.area_id}
    booked = Inspection.objects.open().filter(booked_on__gte=since, technician__isnull=False)
    own = set(booked.filter(**of_feed).order_by("booked_on", "pk").values_list("pk", flat=True)[:MOST])
    days = booked.filter(technician__in=booked.filter(pk__in=own).values("technician"))
    rows = list(
        days.order_by("technician", "booked_on", "pk").values_list(
            "pk", "technician", "booked_on", "procedure", "machine__model", "machine__area__site__time_zone"
        )
    )
    usual, reached, found = usual_minutes({row[3:5] for row in rows}), {}, {}
    for pk, technician, day, procedure, model, zone in rows:
        start, minutes = reached.get((technician, day), 0), usual[procedure, model]
        reached[technician, day] = start + minutes
        if pk in own:
            begins = datetime.combine(day, START, ZoneInfo(zone)) + timedelta(minutes=start)
            found[pk] = Slot(begins, minutes)
    return found


def _events(feed, since, slots, at):
    """Write what the slots change in the stored events, and return those that the calendar holds, by start."""
    recent = Q(starts_at__date__gte=since) | Q(inspection__in=slots)
    stored = {event.inspection_id: event for event in feed.events.filter(recent)}
    signed = set(Inspection.objects.filter(pk__in=stored, stage__in=SIGNED_STAGES).values_list("pk", flat=True))
    for pk, slot in slots.items():
        event = stored.get(pk)
        if event is None:
            stored[pk] = FeedEvent.objects.create(
                feed=feed, inspection_id=pk, starts_at=slot.starts_at, minutes=slot.minutes, changed_at=at
            )
        elif event.is_cancelled or (event.starts_at, event.minutes) != (slot.starts_at, slot.minutes):
            _change(event, at, starts_at=slot.starts_at, minutes=slot.minutes, is_cancelled=False)
    for pk, event in stored.items():
        if pk not in slots and pk not in signed and not event.is_cancelled:
            _change(event, at, is_cancelled=True)
    kept = [event for event in stored.values() if event.starts_at.date() >= since]
    return sorted(kept, key=lambda event: (event.starts_at, event.inspection_id))


def _change(event, at, **fields):
    for name, value in fields.items():
        setattr(event, name, value)
    event.sequence, event.changed_at = event.sequence + 1, at
    event.save()


def _component(event, inspection):
    machine = inspection.machine
    zone = ZoneInfo(machine.site.time_zone)
    starts_at = event.starts_at.astimezone(zone)
    component = Event()
    component.add("uid", f"inspection-{inspection.pk}-{event.feed_id}@bobbin")
    component.add("sequence", event.sequence)
    component.add("status", "CANCELLED" if event.is_cancelled else "CONFIRMED")
    component.add("dtstamp", event.changed_at)
    component.add("last-modified", event.changed_at)
    component.add("dtstart", starts_at)
    component.add("dtend", (event.starts_at + timedelta(minutes=event.minutes)).astimezone(zone))
    component.add("summary", _on_one_line(f"{inspection.procedure} of machine {machine}"))
    component.add("location", _on_one_line(str(machine.area)))
    words = f"Due {inspection.due_on.isoformat()}. Technician: {inspection.technician or 'nobody'}."
    component.add("description", _on_one_line(words))
    component.add("url", f"{settings.BASE_URL}{inspection.get_absolute_url()}")
    return component


def _on_one_line(text):
    """The text with every kind of line break as a space: a line of a calendar holds none."""
    return " ".join(text.split())
