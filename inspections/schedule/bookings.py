"""How many inspections are booked, by technician and week."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count

from fleet.models import Person
from inspections.models import Stage

WEEKS = 6


@dataclass(frozen=True, slots=True)
class Bookings:
    """The bookings of some weeks. `rows` holds each technician with (Monday, count) pairs and their sum."""

    weeks: tuple[date, ...]
    rows: tuple[tuple[Person, tuple[tuple[date, int], ...], int], ...]


def bookings_by_week(inspections, today, weeks=WEEKS):
    """Count those of `inspections` that are booked and not begun, from this week's Monday on, in two queries."""
    monday = today - timedelta(days=today.weekday())
    mondays = tuple(monday + timedelta(weeks=number) for number in range(weeks))
    booked = inspections.to_do_between(monday, mondays[-1] + timedelta(days=6))
    # By stage as well, as the index has them: the database then sorts nothing.
    daily = booked.values_list("booked_on", "stage", "technician").annotate(number=Count("*"))
    counts = defaultdict(Counter)
    for day, stage, technician, number in daily:
        if stage == Stage.BOOKED:
            counts[technician][day - timedelta(days=day.weekday())] += number
    people = Person.objects.filter(pk__in=counts)
    return Bookings(mondays, tuple(_row(person, counts[person.pk], mondays) for person in people))


def _row(person, by_week, mondays):
    return person, tuple((monday, by_week[monday]) for monday in mondays), sum(by_week.values())
