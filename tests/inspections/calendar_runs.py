"""How each action of calendars and plans is run in tests/test_changes.py, and a row in each table of calendars."""

from datetime import timedelta

from inspections.actions import (
    accept_year_plan,
    add_free_day,
    book_inspection,
    close_area,
    confirm_competence,
    enter_leave,
    level_first_inspections,
    make_calendar_feed,
    move_bookings_of,
    plan_inspection,
    propose_year,
    set_working_hours,
    unbook_inspection,
    withdraw_calendar_entry,
)
from inspections.models import Procedure
from inspections.planning.year_plan import Placement, YearPlan
from inspections.schedule.year_problem import year_problem
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_machine,
    make_model,
    make_person,
    make_site,
)

AT = NOON + timedelta(days=1)
DAY = TODAY + timedelta(days=2)


def make_calendar_rows(machine, by):
    """A row in every table of calendars."""
    person = make_person("technician")
    set_working_hours(person, {0: 240}, by=by, at=NOON)
    enter_leave(person, kind="leave", first_day=TODAY, last_day=TODAY, by=by, at=NOON)
    confirm_competence(person, machine_model=machine.model, evidence="Course", by=by, at=NOON)
    add_free_day(machine.site, day=TODAY, title="Founders' day", by=by, at=NOON)
    close_area(machine.area, weekday=2, reason="List day", by=by, at=NOON)
    make_calendar_feed(area=machine.area, by=by, at=NOON)


def _planned(by):
    load_all_procedures()
    return plan_inspection(make_machine(), Procedure.objects.get(code="yearly"), due_on=DAY, by=by, at=NOON)


def _booked(by):
    inspection = _planned(by)
    book_inspection(inspection, technician=make_person("technician"), booked_on=DAY, by=by, at=NOON)
    return inspection


def _proposed(by):
    inspection, person = _planned(by), make_person("technician")
    plan = YearPlan((Placement(inspection.pk, person.pk, DAY),), (), 1.0, 1.0, True)
    return propose_year(year_problem(by, TODAY), plan, seconds=0.1, by=by, at=NOON)


def _leave(by):
    return enter_leave(make_person("technician"), kind="leave", first_day=DAY, last_day=DAY, by=by, at=NOON)


def _move(inspection, by):
    days = {"first_day": DAY, "last_day": DAY}
    move_bookings_of(inspection.technician, kind="illness", by=by, at=AT, today=TODAY, **days)


CALENDAR_RUNS = {
    "set_working_hours": (
        lambda by: make_person("technician"),
        lambda person, by: set_working_hours(person, {0: 240, 6: 0}, by=by, at=AT),
    ),
    "enter_leave": (
        lambda by: make_person("technician"),
        lambda person, by: enter_leave(person, kind="leave", first_day=DAY, last_day=DAY, by=by, at=AT),
    ),
    "confirm_competence": (
        lambda by: (make_person("technician"), make_model()),
        lambda made, by: confirm_competence(made[0], machine_model=made[1], evidence="Course", by=by, at=AT),
    ),
    "add_free_day": (
        lambda by: make_site(),
        lambda site, by: add_free_day(site, day=DAY, title="Founders' day", by=by, at=AT),
    ),
    "close_area": (lambda by: make_area(), lambda o, by: close_area(o, weekday=1, reason="List", by=by, at=AT)),
    "make_calendar_feed": (lambda by: make_area(), lambda area, by: make_calendar_feed(area=area, by=by, at=AT)),
    "withdraw_calendar_entry": (_leave, lambda leave, by: withdraw_calendar_entry(leave, by=by, at=AT)),
    "unbook_inspection": (_booked, lambda inspection, by: unbook_inspection(inspection, by=by, at=AT)),
    "accept_year_plan": (_proposed, lambda plan, by: accept_year_plan(plan, by=by, at=AT)),
    "move_bookings_of": (_booked, _move),
    "level_first_inspections": (_planned, lambda _, by: level_first_inspections(today=TODAY, by=by, at=AT)),
}
