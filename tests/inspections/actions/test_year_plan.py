"""The year's plan: proposed by a job, accepted at once, moved when somebody is away, levelled at the beginning."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.jobs.running import run_waiting_job
from inspections.actions import (
    accept_year_plan,
    book_inspection,
    enter_leave,
    level_first_inspections,
    move_bookings_of,
    plan_inspection,
)
from inspections.errors import GroundsChanged, Refused
from inspections.jobs.year_plan import request_year_plan
from inspections.models import Inspection, Leave, YearPlan
from inspections.schedule.absence import moves_of_absence
from inspections.schedule.levelling import first_inspections, levelled
from inspections.schedule.year_problem import year_problem
from tests.factories import NOON, TODAY, make_away, make_machine, make_model
from tests.inspections.calendar_scene import make_department

WEEK_2 = (TODAY + timedelta(days=7), TODAY + timedelta(days=18))


@pytest.fixture
def department(db, tmp_path):
    return make_department(tmp_path)


def proposed(department):
    job = request_year_plan(by=department.planner, at=NOON)
    assert run_waiting_job(job.pk, clock=lambda: NOON, pulse=False) == "done"
    return YearPlan.objects.get(state="proposed")


def client_of(department):
    client = Client()
    client.force_login(department.planner)
    return client


def booked_days():
    return {one.pk: (one.technician_id, one.booked_on) for one in Inspection.objects.booked()}


def test_the_job_proposes_a_day_for_everything_and_books_nothing(department):
    plan = proposed(department)
    assert plan.proposed_days.placed().count() == 6 and booked_days() == {}
    again = proposed(department)
    assert YearPlan.objects.filter(state="replaced").count() == 1 and again.proposed_days.count() == 6


def test_accepting_books_all_and_moves_nothing_that_was_booked_meanwhile(department):
    plan = proposed(department)
    first, (_, ben) = department.inspections[0], department.people
    book_inspection(first, technician=ben, booked_on=TODAY + timedelta(days=3), by=department.planner, at=NOON)
    accepted = accept_year_plan(plan, by=department.planner, at=NOON)
    assert (accepted.booked, accepted.left) == (5, 1)
    assert booked_days()[first.pk] == (ben.pk, TODAY + timedelta(days=3)) and len(booked_days()) == 6
    with pytest.raises(Refused, match="no longer proposed"):
        accept_year_plan(plan, by=department.planner, at=NOON)


def test_a_plan_whose_days_have_passed_books_nothing(department):
    plan = proposed(department)
    with pytest.raises(Refused, match="is past"):
        accept_year_plan(plan, by=department.planner, at=NOON + timedelta(days=60))
    assert booked_days() == {}


def test_accepting_asks_as_often_for_many_as_for_few(department):
    assert department.planner.site_ids == []  # read once

    def queries():
        plan = proposed(department)
        with CaptureQueriesContext(connection) as asked:
            accept_year_plan(plan, by=department.planner, at=NOON)
        return len(asked)

    few = queries()
    for machine in [make_machine(area=department.area, model=department.model) for _ in range(9)]:
        plan_inspection(machine, department.procedure, due_on=TODAY, by=department.planner, at=NOON)
    assert queries() == few


def test_reading_the_problem_takes_the_same_queries_for_more_machines(department):
    assert department.planner.site_ids == []  # read once

    def queries():
        with CaptureQueriesContext(connection) as asked:
            year_problem(department.planner, TODAY)
        return len(asked)

    before = queries()
    for machine in [make_machine(area=department.area, model=make_model()) for _ in range(5)]:
        plan_inspection(machine, department.procedure, due_on=TODAY, by=department.planner, at=NOON)
    assert queries() == before


def test_illness_moves_the_bookings_of_those_days_and_no_other(department):
    ana, ben = department.people
    for number, one in enumerate(department.inspections):
        who = ana if number < 4 else ben
        book_inspection(
            one, technician=who, booked_on=WEEK_2[0] + timedelta(days=number % 4), by=department.planner, at=NOON
        )
    before = booked_days()
    shown = moves_of_absence(ana, *WEEK_2, by=department.planner, today=TODAY)
    assert len(shown.moved) == 4 and Leave.objects.count() == 0 and booked_days() == before
    sent = {"kind": "illness", "first_day": WEEK_2[0], "last_day": WEEK_2[1], "by": department.planner, "at": NOON}
    with pytest.raises(GroundsChanged):
        move_bookings_of(ana, today=TODAY, shown="other", **sent)
    assert booked_days() == before and Leave.objects.count() == 0
    done = move_bookings_of(ana, today=TODAY, shown=shown.digest, **sent)
    after = booked_days()
    assert done == shown and all(after[one.pk] == before[one.pk] for one in department.inspections[4:])
    assert all("Ana" in move.why for move in done.moved)
    assert not any(who == ana.pk and WEEK_2[0] <= day <= WEEK_2[1] for who, day in after.values())


def test_what_nobody_can_take_over_is_planned_again_with_the_reason(department):
    ana, ben = department.people
    one = department.inspections[0]
    book_inspection(one, technician=ana, booked_on=WEEK_2[0], by=department.planner, at=NOON)
    until = TODAY + timedelta(days=60)
    enter_leave(ben, kind="leave", first_day=TODAY, last_day=until, by=department.planner, at=NOON)
    moves = move_bookings_of(
        ana, kind="illness", first_day=TODAY, last_day=until, by=department.planner, at=NOON, today=TODAY
    )
    assert [move.inspection.pk for move in moves.unplaced] == [one.pk] and "at work" in moves.unplaced[0].why
    one.refresh_from_db()
    assert (one.stage, one.technician, one.booked_on) == ("planned", None, None)


def test_first_due_dates_are_spread_by_rank_and_only_once(department):
    Inspection.objects.update(due_on=TODAY, opens_on=TODAY, closes_on=TODAY + timedelta(days=14))
    dates = levelled(first_inspections(department.planner, TODAY), TODAY)
    days = [one.due_on for one in dates]
    assert days == sorted(days) and days[0] == TODAY and days[-1] > TODAY + timedelta(days=270)
    assert [one.place for one in dates] == sorted(one.place for one in dates)
    assert all(day.weekday() < 5 for day in days)
    with pytest.raises(GroundsChanged):
        level_first_inspections(today=TODAY, by=department.planner, at=NOON, number=5)
    assert level_first_inspections(today=TODAY, by=department.planner, at=NOON, number=6) == 6
    assert sorted(Inspection.objects.values_list("due_on", flat=True)) == days
    with pytest.raises(Refused, match="No first inspection"):
        level_first_inspections(today=TODAY, by=department.planner, at=NOON)


def test_nothing_booked_or_overdue_is_levelled(department):
    one, other, *_ = department.inspections
    book_inspection(one, technician=department.people[0], booked_on=TODAY, by=department.planner, at=NOON)
    Inspection.objects.filter(pk=other.pk).update(closes_on=TODAY - timedelta(days=1))
    chosen = set(first_inspections(department.planner, TODAY).values_list("pk", flat=True))
    assert chosen == {each.pk for each in department.inspections[2:]}


def test_the_pages_show_the_plan_and_its_picture_and_do_what_they_say(department, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args: TODAY)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOON)
    client = client_of(department)
    proposed(department)
    page = client.get(reverse("inspections:year_plan")).content.decode()
    assert "<svg" in page and "Accept: book 6" in page and "Ana" in page
    assert client.post(reverse("inspections:year_plan_accept")).status_code == 302 and len(booked_days()) == 6
    away = {"technician": department.people[0].pk, "kind": "illness", "first_day": WEEK_2[0], "last_day": WEEK_2[1]}
    shown = client.post(reverse("inspections:away"), away)
    digest = shown.context["moves"].digest
    done = client.post(reverse("inspections:away"), {**away, "shown": digest})
    assert done.status_code == 302 and Leave.objects.count() == 1
    assert client.get(done.url).status_code == 200


def test_the_page_asks_as_often_for_many_machines_as_for_few(department):
    client = client_of(department)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("inspections:year_plan"))
        return len(asked)

    proposed(department)
    few = queries()
    for machine in [make_machine(area=department.area, model=department.model) for _ in range(9)]:
        plan_inspection(machine, department.procedure, due_on=TODAY, by=department.planner, at=NOON)
    proposed(department)
    assert queries() == few <= 30


def test_calendars_are_kept_by_the_planner(department, monkeypatch):
    client, ana = client_of(department), department.people[0]
    page = reverse("inspections:technician_calendar", args=[ana.pk])
    assert client.get(reverse("inspections:calendars")).status_code == 200
    hours = {f"h-day_{day}": "7.5" if day < 5 else "" for day in range(7)}
    assert client.post(page, {"what": "hours", **hours}).status_code == 302
    assert ana.working_hours.get(weekday=0).minutes == 450
    leave = {"what": "leave", "l-kind": "training", "l-first_day": "2026-12-01", "l-last_day": "2026-12-02"}
    assert client.post(page, leave).status_code == 302
    competence = {"what": "competence", "c-machine_model": department.model.pk, "c-evidence": "Course"}
    assert client.post(page, competence).status_code == 302
    withdraw = reverse("inspections:calendar_withdraw", args=["competence", ana.competences.get().pk])
    assert client.post(withdraw).status_code == 302 and not ana.competences.in_force()
    closed = reverse("inspections:closed_days")
    day = {"what": "free-day", "f-site": department.site.pk, "f-day": "2026-12-24", "f-title": "Eve"}
    assert client.post(closed, day).status_code == 302
    closing = {"what": "closing", "c-area": department.area.pk, "c-weekday": "2", "c-reason": "list day"}
    assert client.post(closed, closing).status_code == 302
    assert "Eve" in client.get(closed).content.decode()


def test_first_due_dates_page_levels_what_it_shows(department, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args: TODAY)
    client, page = client_of(department), reverse("inspections:levelling")
    assert client.get(page).context["number"] == 6
    client.post(page, {"number": "6"})
    assert client.get(page).context["number"] == 0


def test_work_on_a_machine_that_is_away_is_planned_from_the_day_of_its_return(department):
    away = make_away(department.inspections[0].machine, from_date=TODAY, expected_on=TODAY + timedelta(days=5))
    jobs = {job.machine: job for job in year_problem(department.planner, TODAY).jobs}
    held = jobs[away.machine_id]
    assert held.first_day == away.expected_on and held.area == -department.area.pk
    assert min(job.first_day for job in jobs.values()) < away.expected_on
