"""Bookings of a week are moved by dragging or by two presses, questions are asked first, and all are on paper."""

import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from inspections.actions import book_inspection
from inspections.models import Inspection, Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_area, make_inspection, make_machine, make_person

DAY = TODAY  # a Monday
URL = "inspections:week"


@pytest.fixture
def technician(db):
    return make_person("technician", last_name="Arden")


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def booked(technician, day=DAY, **fields):
    load_all_procedures()
    machine = make_machine(area=make_area(minimum_machines=0), **fields)
    inspection = make_inspection(machine, Procedure.objects.get(code="yearly"), due_on=TODAY + timedelta(days=10))
    return book_inspection(inspection, technician=technician, booked_on=day, by=technician, at=NOON) or inspection


def body(response):
    return response.content.decode()


def move(client, inspection, technician, day, **data):
    inspection.refresh_from_db()
    fields = {"technician": technician.pk, "booked_on": day.isoformat(), "seen": inspection.booked_at.isoformat()}
    return client.post(reverse("inspections:week_move", args=[inspection.pk]), {**fields, **data})


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOON)


def test_a_booking_stands_on_its_day_with_the_load_of_that_day(client, planner, technician):
    inspection = booked(technician, asset_number="W-1")
    page = body(client.get(reverse(URL), {"week": DAY.isoformat()}))
    assert "W-1" in page and "Arden" in page and "1 booked inspection." in page
    assert f'data-day="{DAY.isoformat()}"' in page and reverse("inspections:week_move", args=[inspection.pk]) in page
    assert "Nothing is booked" in body(client.get(reverse(URL), {"week": (DAY + timedelta(days=70)).isoformat()}))


def test_moving_without_a_question_books_and_leads_back_to_that_week(client, planner, technician):
    inspection, day = booked(technician), DAY + timedelta(days=8)
    response = move(client, inspection, technician, day)
    assert response.url == f"{reverse(URL)}?week={day.isoformat()}"
    assert Inspection.objects.get(pk=inspection.pk).booked_on == day


def test_what_speaks_against_the_day_is_asked_before_anything_is_saved(client, planner, technician):
    inspection, saturday = booked(technician), DAY + timedelta(days=5)
    response = move(client, inspection, technician, saturday)
    assert response.status_code == 200 and "Saturday" in body(response) and "Book anyway" in body(response)
    assert Inspection.objects.get(pk=inspection.pk).booked_on == DAY
    asked = response.context["form"].data["asked"]
    move(client, inspection, technician, saturday, although_short="on", asked=asked)
    assert Inspection.objects.get(pk=inspection.pk).booked_on == saturday


def test_a_booking_that_somebody_moved_meanwhile_stays(client, planner, technician):
    inspection, other = booked(technician), make_person("technician")
    page = client.get(reverse(URL), {"week": DAY.isoformat()})
    seen = next(each for week in page.context["weeks"] for each in week.bookings).seen
    book_inspection(inspection, technician=other, booked_on=DAY, by=other, at=NOON + timedelta(minutes=5))
    response = move(client, inspection, technician, DAY + timedelta(days=1), seen=seen)
    assert response.status_code == 200
    assert Inspection.objects.get(pk=inspection.pk).technician == other


def test_every_day_has_a_button_for_the_booking_that_is_moved_in_any_week(client, planner, technician):
    inspection = booked(technician)
    booked(technician, DAY + timedelta(days=7))
    for day in (DAY, DAY + timedelta(days=7)):
        page = body(client.get(reverse(URL), {"week": day.isoformat(), "move": inspection.pk}))
        assert page.count(">Here<") == 7 and "Leave it where it is" in page


def test_who_may_not_plan_reads_only(client, technician):
    inspection = booked(technician)
    client.force_login(make_person("auditor"))
    assert "data-move" not in body(client.get(reverse(URL), {"week": DAY.isoformat()}))
    assert move(client, inspection, technician, DAY).status_code == 403
    client.force_login(make_person("planner"))
    assert client.get(reverse("inspections:week_move", args=[inspection.pk])).status_code == 405


def test_a_planner_of_another_site_neither_sees_nor_moves_it(client, technician):
    inspection = booked(technician, asset_number="W-1")
    client.force_login(make_person("planner", sites=[make_area().site]))
    assert "W-1" not in body(client.get(reverse(URL), {"week": DAY.isoformat()}))
    assert move(client, inspection, technician, DAY).status_code == 404


def test_the_paper_has_every_booking_of_each_technician(client, planner, technician):
    for number in range(30):
        booked(technician, asset_number=f"W-{number:02}")
    booked(make_person("technician", last_name="Bell"), asset_number="X-1")
    content = client.get(reverse("inspections:week_pdf"), {"week": DAY.isoformat()}).content
    words = "".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    assert all(f"W-{number:02}" in words for number in range(30))
    assert "X-1" in words and "Bell" in words and "Arden" in words


def test_the_number_of_queries_does_not_grow_with_the_bookings(client, planner, technician):
    def queries():
        with CaptureQueriesContext(connection) as found:
            assert client.get(reverse(URL), {"week": DAY.isoformat()}).status_code == 200
        return len(found)

    booked(technician)
    few = queries()
    for _ in range(4):
        booked(technician)
    booked(make_person("technician"))
    assert queries() == few
