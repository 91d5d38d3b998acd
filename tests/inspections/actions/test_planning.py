"""Planning, booking and voiding."""

from datetime import date, timedelta

import pytest
from django.db import connection

from fleet.acting.scope import outside_actions
from fleet.actions import retire_machine
from fleet.models import EarlierInspection, JournalLink
from inspections.actions import (
    book_inspection,
    book_inspections,
    open_inspection,
    plan_due_inspections,
    plan_inspection,
    void_inspection,
)
from inspections.errors import StageRefused
from inspections.models import Inspection, Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_open_inspection,
    make_person,
    make_signed_inspection,
    make_site,
)

TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture
def planner(db):
    return make_person("planner")


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return Procedure.objects.get(code="yearly")


def due_dates(machine, code="yearly"):
    return list(
        Inspection.objects.open().filter(machine=machine, procedure__code=code).values_list("due_on", flat=True)
    )


def test_a_planned_inspection_is_on_time_within_the_window_of_its_procedure(planner, yearly):
    inspection = plan_inspection(make_machine(), yearly, due_on=TODAY, by=planner, at=NOON)
    window = timedelta(days=yearly.window_days)
    assert (inspection.stage, inspection.opens_on, inspection.closes_on) == ("planned", TODAY - window, TODAY + window)


def test_a_retired_machine_gets_no_inspection(planner, yearly):
    machine = make_machine()
    retire_machine(machine, by=planner, at=NOON, reason="Sold")
    with pytest.raises(StageRefused, match="is retired"):
        plan_inspection(machine, yearly, due_on=TODAY, by=planner, at=NOON)
    plan_due_inspections(today=TODAY, at=NOON)
    assert due_dates(machine) == []


def test_the_next_inspection_is_due_an_interval_after_the_last_signature(planner, yearly):
    machine = make_machine()
    make_signed_inspection(machine, yearly, by=planner, at=NOON)
    plan_due_inspections(today=TODAY, at=NOON)
    assert due_dates(machine) == [date(2027, 11, 2)]


def test_the_date_of_the_last_signature_is_that_of_the_site(planner, yearly):
    machine = make_machine(area=make_area(make_site(time_zone="Pacific/Auckland")))  # 3 Nov there when it is noon UTC
    make_signed_inspection(machine, yearly, by=planner, at=NOON)
    plan_due_inspections(today=TODAY, at=NOON)
    assert due_dates(machine) == [date(2027, 11, 3)]


def test_a_machine_never_inspected_is_due_an_interval_after_it_came_into_use(yearly):
    young, old = make_machine(in_use_from=date(2026, 9, 1)), make_machine(in_use_from=date(2015, 1, 1))
    plan_due_inspections(today=TODAY, at=NOON)
    assert (due_dates(young), due_dates(old)) == ([date(2027, 9, 1)], [TODAY])


@pytest.mark.parametrize(("counts_as", "due_on"), [("yearly", date(2027, 3, 5)), ("", TODAY), ("half-yearly", TODAY)])
def test_what_was_recorded_elsewhere_counts_only_as_the_procedure_that_was_chosen(yearly, counts_as, due_on):
    machine = make_machine(in_use_from=date(2015, 1, 1))
    for day in (date(2025, 3, 4), date(2026, 3, 5)):
        EarlierInspection.objects.create(
            machine=machine, done_on=day, procedure="Service", counts_as=counts_as, source="x", recorded_at=NOON
        )
    plan_due_inspections(today=TODAY, at=NOON)
    assert due_dates(machine) == [due_on]


def test_planning_what_is_due_twice_plans_nothing_twice(yearly):
    machine = make_machine()
    assert plan_due_inspections(today=TODAY, at=NOON) == Procedure.objects.exclude(interval_months=None).count()
    assert plan_due_inspections(today=TODAY, at=NOON) == 0
    assert len(due_dates(machine)) == 1


class Ended(Exception):
    """A run that is ended between two batches, as by a worker that stops."""


@pytest.mark.django_db(transaction=True)
def test_nobody_waits_for_all_batches_and_a_run_that_is_ended_leaves_what_it_has_planned(monkeypatch):
    load_all_procedures()
    monkeypatch.setattr("inspections.actions.planning.PLANNED_AT_ONCE", 2)
    machines = [make_machine() for _ in range(5)]
    recurring = Procedure.objects.exclude(interval_months=None).count()

    def end_after_one(done, total, words):
        assert total == 3 * recurring
        assert not connection.in_atomic_block, "a person who plans would wait for the batches that follow"
        if done:
            raise Ended

    with outside_actions():
        with pytest.raises(Ended):
            plan_due_inspections(today=TODAY, at=NOON, tell=end_after_one)
        assert Inspection.objects.count() == 2
        assert JournalLink.objects.filter(content__contains="plan_due_inspections").count() == 1
        plan_due_inspections(today=TODAY, at=NOON)
    assert Inspection.objects.count() == len(machines) * recurring


def test_a_void_inspection_is_planned_anew(planner, yearly):
    machine = make_machine()
    plan_due_inspections(today=TODAY, at=NOON)
    void_inspection(Inspection.objects.get(procedure=yearly), reason="Machine away", by=planner, at=NOON)
    plan_due_inspections(today=TODAY, at=NOON)
    assert due_dates(machine) == [TODAY]


def test_booking_places_and_moves_an_inspection(planner):
    inspection, technician = make_inspection(), make_person("technician")
    book_inspection(inspection, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    book_inspection(inspection, technician=technician, booked_on=TOMORROW, by=planner, at=NOON)
    assert (inspection.stage, inspection.technician, inspection.booked_on) == ("booked", technician, TOMORROW)


def test_booking_leaves_standing_who_planned_it_and_when(planner):
    inspection = make_inspection(by=planner, at=NOON)
    other = make_person("planner")
    book_inspection(
        inspection, technician=make_person("technician"), booked_on=TODAY, by=other, at=NOON + timedelta(days=3)
    )
    assert (inspection.planned_by, inspection.planned_at) == (planner, NOON)
    assert (inspection.booked_by, inspection.booked_at) == (other, NOON + timedelta(days=3))


def test_an_inspection_on_the_bench_is_not_booked_any_more(planner):
    inspection = make_open_inspection(by=make_person("technician"))
    with pytest.raises(StageRefused, match="is in progress"):
        book_inspection(inspection, technician=planner, booked_on=TODAY, by=planner, at=NOON)


def test_booking_several_books_all_or_none(planner):
    technician, machine = make_person("technician"), make_machine()
    free, begun = make_inspection(machine), make_inspection(machine)
    open_inspection(begun, by=technician, at=NOON)
    with pytest.raises(StageRefused):
        book_inspections([free, begun], technician=technician, booked_on=TODAY, by=planner, at=NOON)
    free.refresh_from_db()
    assert free.stage == "planned"


def test_voiding_needs_a_reason(planner):
    inspection = make_inspection()
    with pytest.raises(StageRefused, match="with a reason"):
        void_inspection(inspection, reason=" ", by=planner, at=NOON)
    inspection.refresh_from_db()
    assert inspection.stage == "planned"


def test_a_signed_inspection_is_not_voided(planner):
    signed = make_signed_inspection(by=planner)
    with pytest.raises(StageRefused, match="is signed"):
        void_inspection(signed, reason="Wrong machine", by=planner, at=NOON)
