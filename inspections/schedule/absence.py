"""Where the bookings of somebody who is away can go: to other people and days, with the reason for each."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from hashlib import sha256

from fleet.models import Person
from fleet.web.at_site import day_words
from inspections.models import Inspection, Stage
from inspections.planning.year_plan import UNEVEN_SOON, plan_year
from inspections.schedule.year_problem import year_problem

REACH_DAYS = 120


@dataclass(frozen=True, slots=True)
class Move:
    """A booked inspection, its day so far, and to whom and when; without a day `why` is the reason, `remedy` helps."""

    inspection: Inspection
    was_on: date
    technician: Person | None
    day: date | None
    why: str
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Moves:
    """What an absence changes, in order of the day that it was booked for."""

    moved: tuple[Move, ...]
    unplaced: tuple[Move, ...]

    @property
    def digest(self):
        """What identifies the moves, as a page carries it."""
        rows = [
            (one.inspection.pk, one.technician and one.technician.pk, str(one.day))
            for one in (*self.moved, *self.unplaced)
        ]
        return sha256(repr(rows).encode()).hexdigest()[:32]


def moves_of_absence(person, first_day, last_day, *, by, today):
    """Plan the bookings of `person` from `first_day` to `last_day` again, within their windows. Writes nothing.

    Everything else that is booked stays. The queries do not grow with the bookings.
    """
    concerned = Inspection.objects.visible_to(by).filter(stage=Stage.BOOKED, technician=person)
    concerned = concerned.booked_between(max(first_day, today), last_day).with_place()
    inspections = {one.pk: one for one in concerned.order_by("booked_on", "pk")}
    if not inspections:
        return Moves((), ())
    reach = (today + timedelta(days=1), last_day + timedelta(days=REACH_DAYS))
    problem = year_problem(
        by, today, jobs=concerned, first=reach[0], last=reach[1], leaving_out=list(inspections),
        away=(person.pk, first_day, last_day), near="booked_on",
    )  # fmt: skip
    plan = plan_year(replace(problem, uneven=UNEVEN_SOON))
    people = Person.objects.in_bulk({one.technician for one in plan.placements})
    return Moves(
        tuple(_moved(inspections[one.job], people[one.technician], one.day, person) for one in plan.placements),
        tuple(_unplaced(inspections[one.job], one) for one in plan.unplaced),
    )


def _moved(inspection, technician, day, away):
    who = f"{away} is away on {day_words(inspection.booked_on)}"
    if technician.pk == away.pk:
        why = f"{who}, and is back by {day_words(day)}."
    elif day == inspection.booked_on:
        why = f"{who}; {technician} has the hours that day."
    else:
        why = f"{who}; {technician} has the hours on {day_words(day)}."
    return Move(inspection, inspection.booked_on, technician, day, why)


def _unplaced(inspection, unplaced):
    return Move(inspection, inspection.booked_on, None, None, unplaced.reason, unplaced.remedy)
