"""A booking that is late, on a free day, on leave, in a closed area or more than the day has is asked about."""

from datetime import date, timedelta

import pytest
from django.test import Client

from inspections.actions import add_free_day, book_inspection, close_area, enter_leave, withdraw_calendar_entry
from inspections.models import FreeDay, Inspection, Leave
from inspections.schedule.booking_questions import booking_questions
from tests.factories import NOON, TODAY, make_away, make_person
from tests.inspections.calendar_scene import make_department

FRIDAY = TODAY + timedelta(days=4)


@pytest.fixture
def department(db, tmp_path):
    return make_department(tmp_path, holiday_country="KE")


def asked(department, day, *, person=None, chosen=None):
    pks = [one.pk for one in chosen or department.inspections[:1]]
    inspections = list(Inspection.objects.with_place().filter(pk__in=pks))
    return booking_questions(inspections, person or department.people[0], day, TODAY)


def test_a_working_day_within_the_window_is_not_asked_about(department):
    assert asked(department, FRIDAY) == []


def test_each_reason_against_a_day_is_named(department):
    ana, _ = department.people
    enter_leave(ana, kind="illness", first_day=FRIDAY, last_day=FRIDAY, by=department.planner, at=NOON)
    add_free_day(department.site, day=FRIDAY, title="Founders' day", by=department.planner, at=NOON)
    close_area(department.area, weekday=4, reason="list day", by=department.planner, at=NOON)
    words = " ".join(asked(department, FRIDAY))
    assert "Founders' day" in words and "illness" in words and "list day" in words
    for entry in (Leave.objects.get(), FreeDay.objects.get()):
        withdraw_calendar_entry(entry, by=department.planner, at=NOON)
    assert len(asked(department, FRIDAY)) == 1


def test_a_public_holiday_a_weekend_and_a_late_day_are_asked_about(department):
    [christmas, *_] = asked(department, date(2026, 12, 25))
    assert "is late" in christmas and any("Christmas Day" in one for one in asked(department, date(2026, 12, 25)))
    assert "no working hours on a Saturday" in asked(department, FRIDAY + timedelta(days=1))[0]
    new = make_person("technician")
    assert asked(department, FRIDAY + timedelta(days=1), person=new)[0].endswith("is a Saturday.")


def test_more_than_the_hours_of_the_day_are_asked_about(department):
    ana, _ = department.people
    for inspection in department.inspections[:3]:
        book_inspection(inspection, technician=ana, booked_on=FRIDAY, by=department.planner, at=NOON)
    assert asked(department, FRIDAY, chosen=department.inspections[3:4]) == []
    [words] = asked(department, FRIDAY, chosen=department.inspections[3:5])
    assert "5 inspections of about 300 minutes" in words and "has 240" in words


def test_the_page_asks_again_when_the_question_is_another(department, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args: TODAY)
    client, inspection = Client(), department.inspections[0]
    client.force_login(department.planner)
    saturday = {"technician": department.people[0].pk, "booked_on": (FRIDAY + timedelta(days=1)).isoformat()}
    page = client.post(f"/inspections/{inspection.pk}/book/", saturday)
    form = page.context["form"]
    assert "no working hours" in str(form.errors) and page.status_code == 200
    answer = {**saturday, "although_short": "on", "asked": form.data["asked"]}
    sunday = (FRIDAY + timedelta(days=2)).isoformat()
    assert client.post(f"/inspections/{inspection.pk}/book/", {**answer, "booked_on": sunday}).status_code == 200
    assert Inspection.objects.get(pk=inspection.pk).booked_on is None
    assert client.post(f"/inspections/{inspection.pk}/book/", answer).status_code == 302
    assert Inspection.objects.get(pk=inspection.pk).booked_on == FRIDAY + timedelta(days=1)


def test_all_that_the_filter_keeps_is_booked_and_the_filter_stays(department, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args: TODAY)
    client = Client()
    client.force_login(department.planner)
    query = f"?view=due&area={department.area.pk}"
    sent = {"technician": department.people[0].pk, "booked_on": FRIDAY.isoformat(), "all": "1"}
    page = client.post(f"/inspections/book/{query}", sent)
    assert len(page.context["inspections"]) == 6 and "360 minutes" in page.content.decode()
    form = page.context["form"]
    ticked = {"inspection": [one.pk for one in page.context["inspections"]], "although_short": "on"}
    done = client.post(
        f"/inspections/book/{page.context['kept']}", {**sent, **ticked, "all": "", "asked": form.data["asked"]}
    )
    assert done.url == f"/inspections/{query}"
    assert Inspection.objects.booked().count() == 6


def test_a_machine_that_is_not_back_by_the_day_is_asked_about(department):
    machine = department.inspections[0].machine
    make_away(machine, expected_on=FRIDAY)
    assert asked(department, FRIDAY) == []
    [words] = asked(department, FRIDAY - timedelta(days=1))
    assert words == f"{machine} is away until 6 Nov 2026: Lent, County hospital, Ida Roth."
