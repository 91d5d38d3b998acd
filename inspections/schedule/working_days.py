"""When technicians work: hours by weekday, less leave and illness."""

from collections import defaultdict
from datetime import timedelta

from inspections.models import Leave, WorkingHours

ASSUMED_MINUTES = 480  # of a weekday of somebody whose hours are not entered; common practice, no source


def weekly_hours(people):
    """Return minutes by weekday of each of the people whose hours are entered, by key. One query."""
    found = defaultdict(dict)
    for person, weekday, minutes in WorkingHours.objects.filter(person__in=people).values_list(
        "person", "weekday", "minutes"
    ):
        found[person][weekday] = minutes
    return dict(found)


def leaves_between(people, first, last):
    """Return the leaves in force of each person that reach into the days, by key. One query."""
    found = defaultdict(list)
    leaves = Leave.objects.in_force().between(first, last).filter(person__in=people)
    for leave in leaves.order_by("first_day", "pk"):
        found[leave.person_id].append(leave)
    return found


def minutes_by_day(people, first, last):
    """Return date -> minutes for each person whose hours are entered, by key, from `first` to `last`. Two queries."""
    hours, leaves = weekly_hours(people), leaves_between(people, first, last)
    days = days_between(first, last)
    return {
        person: {
            day: by_weekday[day.weekday()]
            for day in days
            if by_weekday.get(day.weekday()) and not away_on(leaves.get(person, ()), day)
        }
        for person, by_weekday in sorted(hours.items())
    }


def away_on(leaves, day):
    """Return the leave that holds a day, or None."""
    return next((leave for leave in leaves if leave.first_day <= day <= leave.last_day), None)


def days_between(first, last):
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]
