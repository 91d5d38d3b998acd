"""The bookings of one week, by technician and day, with the minutes that they usually take."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.models import Person
from inspections.models import Inspection
from inspections.schedule.usual_minutes import usual_minutes
from inspections.schedule.working_days import minutes_by_day

MOST = 1000  # bookings of one week on the page; more are on paper and in the list


@dataclass(frozen=True, slots=True)
class Booking:
    """One booked inspection; `seen` says when it was booked, so that a move can be compared with it."""

    inspection: Inspection
    minutes: int

    @property
    def seen(self):
        return self.inspection.booked_at.isoformat() if self.inspection.booked_at else ""

    @property
    def is_late(self):
        return self.inspection.booked_on > self.inspection.closes_on


@dataclass(frozen=True, slots=True)
class DayOfTechnician:
    """One day of one technician; `hours` in minutes, `is_known` whether hours are entered for the technician."""

    day: date
    bookings: tuple[Booking, ...]
    hours: int
    is_known: bool = True

    @property
    def load(self):
        return sum(booking.minutes for booking in self.bookings)

    @property
    def is_over(self):
        return self.is_known and self.load > self.hours


@dataclass(frozen=True, slots=True)
class WeekOfTechnician:
    person: Person
    days: tuple[DayOfTechnician, ...]

    @property
    def bookings(self):
        return [booking for day in self.days for booking in day.bookings]

    @property
    def load(self):
        return sum(day.load for day in self.days)

    @property
    def hours(self):
        return sum(day.hours for day in self.days)


def week_of(day):
    """Return the seven days of the week of a day, from Monday on."""
    monday = day - timedelta(days=day.weekday())
    return tuple(monday + timedelta(days=number) for number in range(7))


def week_bookings(inspections, people, day, *, most=None):
    """Return the week of each of the people, and of whoever else has a booking in it. Five queries.

    inspections  those that the person may see; `most` of them at most, None for all
    """
    days = week_of(day)
    rows = inspections.open().booked_between(days[0], days[-1]).with_place().order_by("booked_on", "due_on", "pk")
    rows = list(rows[:most] if most else rows)
    usual = usual_minutes({(row.procedure_id, row.machine.model_id) for row in rows})
    booked = defaultdict(list)
    for row in rows:
        booked[row.technician_id, row.booked_on].append(Booking(row, usual[row.procedure_id, row.machine.model_id]))
    named = {person.pk: person for person in [*people, *(row.technician for row in rows if row.technician)]}
    hours = minutes_by_day(list(named), days[0], days[-1])
    return [
        WeekOfTechnician(
            person,
            tuple(
                DayOfTechnician(one, tuple(booked[pk, one]), hours.get(pk, {}).get(one, 0), pk in hours) for one in days
            ),
        )
        for pk, person in sorted(named.items(), key=lambda pair: (str(pair[1]).casefold(), pair[0]))
    ]
