"""How full the weeks of technicians are: hours, what is booked, and what a plan proposes."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from fleet.models import Person
from inspections.models import Inspection, YearPlan
from inspections.schedule.usual_minutes import usual_minutes
from inspections.schedule.working_days import minutes_by_day

WEEKS = 53


@dataclass(frozen=True, slots=True)
class WeekLoad:
    """One week of one technician, in minutes."""

    monday: date
    hours: int
    booked: int
    proposed: int

    @property
    def is_over(self):
        return self.booked + self.proposed > self.hours

    @property
    def free(self):
        return max(0, self.hours - self.booked - self.proposed)


@dataclass(frozen=True, slots=True)
class TechnicianLoad:
    person: Person
    weeks: tuple[WeekLoad, ...]

    @property
    def hours(self):
        return sum(week.hours for week in self.weeks)

    @property
    def load(self):
        return sum(week.booked + week.proposed for week in self.weeks)

    @property
    def percent(self):
        return 100 * self.load / self.hours if self.hours else 0.0


def year_loads(people, first: date, *, plan: YearPlan | None = None, weeks=WEEKS) -> list[TechnicianLoad]:
    """Return the load of each of the people from the week of `first` on. Five queries, however many bookings."""
    monday = first - timedelta(days=first.weekday())
    last = monday + timedelta(weeks=weeks, days=-1)
    keys = [person.pk for person in people]
    hours = minutes_by_day(keys, monday, last)
    booked, proposed = _booked(keys, monday, last), _proposed(plan, keys)
    mondays = [monday + timedelta(weeks=number) for number in range(weeks)]
    return [
        TechnicianLoad(
            person,
            tuple(
                WeekLoad(
                    start,
                    sum(hours.get(person.pk, {}).get(start + timedelta(days=day), 0) for day in range(7)),
                    booked[person.pk, start],
                    proposed[person.pk, start],
                )
                for start in mondays
            ),
        )
        for person in people
    ]


def _booked(people, first, last):
    rows = Inspection.objects.open().booked_between(first, last).filter(technician__in=people).order_by()
    rows = list(rows.values_list("technician", "booked_on", "procedure", "machine__model"))
    minutes = usual_minutes({row[2:] for row in rows})
    found = defaultdict(int)
    for technician, day, *pair in rows:
        found[technician, _monday(day)] += minutes[tuple(pair)]
    return found


def _proposed(plan, people):
    found = defaultdict(int)
    if plan is not None and plan.is_proposed:
        rows = plan.proposed_days.placed().filter(technician__in=people, inspection__stage="planned").order_by()
        for technician, day, minutes in rows.values_list("technician", "day", "minutes"):
            found[technician, _monday(day)] += minutes
    return found


def _monday(day):
    return day - timedelta(days=day.weekday())
