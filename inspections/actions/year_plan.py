"""Propose a plan of a year, accept it, and move the bookings of somebody who is away."""

from dataclasses import dataclass
from time import monotonic

from django.db import transaction

from fleet.changes import correction_entries
from fleet.models import ChangeEntry
from fleet.web.at_site import day_words
from fleet.work_progress import tell_nobody
from inspections.actions.calendars import enter_leave
from inspections.actions.planning import book_inspection, unbook_inspection
from inspections.errors import GroundsChanged, Refused
from inspections.models import Inspection, Leave, ProposedDay, Stage, YearPlan
from inspections.planning.year_plan import plan_year
from inspections.schedule.absence import Moves, moves_of_absence
from inspections.schedule.competence import competences_of, is_competent, last_days
from inspections.schedule.required_skills import skill_ends, skills_of_inspections
from inspections.schedule.year_problem import year_problem

BATCH = 500
BOOKED_AT_ONCE = 6000
BOOKING = ["stage", "technician", "booked_on", "booked_by", "booked_at"]


def compute_year(person, *, today, tell=tell_nobody):
    """Return the problem that `person` plans, its plan, and the seconds that it took. Writes nothing."""
    began = monotonic()
    problem = year_problem(person, today)
    return problem, plan_year(problem, tell), monotonic() - began


@transaction.atomic
def propose_year(problem, plan, *, seconds, by, at):
    """Store a plan as a proposal of `by`; it replaces an earlier one. Books nothing."""
    YearPlan.objects.filter(by=by, state=YearPlan.State.PROPOSED).update(state=YearPlan.State.REPLACED, settled_at=at)
    ProposedDay.objects.filter(plan__by=by).delete()
    proposed = YearPlan.objects.create(
        by=by, made_at=at, first_day=problem.first_day, last_day=problem.last_day, gap=plan.gap,
        is_exact=plan.is_exact, seconds=seconds,
    )  # fmt: skip
    minutes = {job.key: job.minutes for job in problem.jobs}
    rows = [
        ProposedDay(
            plan=proposed, inspection_id=one.job, technician_id=one.technician, day=one.day, minutes=minutes[one.job]
        )
        for one in plan.placements
    ]
    rows += [
        ProposedDay(
            plan=proposed, inspection_id=one.job, minutes=minutes[one.job], binding=str(one.binding),
            reason=one.reason[:500], remedy=one.remedy[:300],
        )
        for one in plan.unplaced
    ]  # fmt: skip
    ProposedDay.objects.bulk_create(rows, batch_size=BATCH)
    return proposed


@dataclass(frozen=True, slots=True)
class Accepted:
    """How many inspections were booked, and how many were not, because they are no longer planned."""

    booked: int
    left: int


@transaction.atomic
def accept_year_plan(plan, *, by, at):
    """Book every day that a proposal of `by` names, all in one transaction. What is booked meanwhile stays as it is.

    Raise Refused for a plan that is no longer proposed, for a day that is past, and for a technician whose competence
    does not reach to the day any more.
    """
    held = YearPlan.objects.select_for_update().filter(pk=plan.pk, by=by).first()
    if held is None or not held.is_proposed:
        raise Refused(f"{plan} is no longer proposed. Compute a new plan.")
    rows = list(plan.proposed_days.placed().with_place().order_by("day", "pk")[:BOOKED_AT_ONCE])
    planned = _held_planned(rows, by)
    chosen = [row for row in rows if row.inspection_id in planned]
    _refuse_overtaken(plan, chosen, at)
    _book(chosen, by=by, at=at)
    YearPlan.objects.filter(pk=plan.pk).update(state=YearPlan.State.ACCEPTED, settled_at=at)
    return Accepted(len(chosen), len(rows) - len(chosen))


def _held_planned(rows, by):
    """Lock the inspections that are still planned, and return their keys."""
    keys = [row.inspection_id for row in rows]
    planned = Inspection.objects.visible_to(by).planned().filter(pk__in=keys).order_by("pk")
    return {one.pk for one in planned.select_for_update(no_key=True, of=("self",)).only("pk")}


def _refuse_overtaken(plan, rows, at):
    competences = competences_of({row.technician_id for row in rows})
    models = {row.inspection.machine.model_id: row.inspection.machine.model for row in rows}
    ends = {key: last_days(found, models.values()) for key, found in competences.items()}
    asked = skills_of_inspections([row.inspection for row in rows], {row.inspection_id: row.day for row in rows})
    for row in rows:
        machine = row.inspection.machine
        if row.day < machine.site.date_of(at):
            raise Refused(f"{plan} names {day_words(row.day)}, which is past. Compute a new plan.")
        if machine.site.needs_competence and not is_competent(ends.get(row.technician_id, {}), machine, row.day):
            raise Refused(
                f"{row.technician} is no longer competent for {machine.model} on {day_words(row.day)}. Compute a new "
                "plan."
            )
        _refuse_unskilled(row, asked.get(row.inspection, {}), skill_ends(competences[row.technician_id]))


def _refuse_unskilled(row, asked, ends):
    for skill, rule in asked.items():
        if skill not in ends or (ends[skill] is not None and ends[skill] < row.day):
            raise Refused(
                f"{row.technician} does not have the skill “{skill}” on {day_words(row.day)}, which planning rule "
                f"{rule.pk} asks for. Compute a new plan."
            )


def _book(rows, *, by, at):
    """Book all at once; the entries say what `book_inspection` would."""
    changes = [
        (
            row.inspection,
            {
                "stage": Stage.BOOKED, "technician": row.technician, "booked_on": row.day, "booked_by": by,
                "booked_at": at,
            },
        )
        for row in rows
    ]  # fmt: skip
    entries = correction_entries(
        [(one, {name: fields[name] for name in ("stage", "technician", "booked_on")}) for one, fields in changes],
        by=by, at=at,
    )  # fmt: skip
    for inspection, fields in changes:
        for name, value in fields.items():
            setattr(inspection, name, value)
    booked = Inspection.objects.filter(stage=Stage.PLANNED).bulk_update(
        [inspection for inspection, _ in changes], BOOKING, batch_size=BATCH
    )
    if booked != len(changes):
        raise Refused("One of the inspections was booked or started meanwhile. Nothing was booked: try again.")
    ChangeEntry.objects.bulk_create(entries, batch_size=BATCH)


@transaction.atomic
def move_bookings_of(person, *, kind, first_day, last_day, by, at, today, shown=None):
    """Enter that a technician is away and move the bookings of these days, in one transaction. Return the Moves.

    What has no other place is planned again without a day. `shown` is the digest of the moves that the page showed;
    raise GroundsChanged if they are others now.
    """
    if kind not in Leave.Kind.values:
        raise Refused(f"“{kind}” is no kind of leave. Accepted: {', '.join(Leave.Kind.values)}.")
    enter_leave(person, kind=kind, first_day=first_day, last_day=last_day, by=by, at=at)
    moves = moves_of_absence(person, first_day, last_day, by=by, today=today)
    if shown is not None and shown != moves.digest:
        raise GroundsChanged(["The bookings of these days, or where they can be moved to, have changed."])
    _carry_out(moves, by=by, at=at)
    return moves


def _carry_out(moves: Moves, *, by, at):
    for move in moves.moved:
        book_inspection(move.inspection, technician=move.technician, booked_on=move.day, by=by, at=at)
    for move in moves.unplaced:
        unbook_inspection(move.inspection, by=by, at=at)
