"""Planning, booking and voiding one inspection."""

from datetime import timedelta

import pytest
import time_machine

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


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def planner(client, db):
    load_all_procedures()
    planner = make_person("planner")
    client.force_login(planner)
    return planner


def test_a_planner_plans_an_inspection_and_goes_on_to_book_it(client, planner):
    machine, procedure = make_machine(), Procedure.objects.get(code="yearly")
    response = client.post(
        f"/machines/{machine.pk}/plan/", {"procedure": procedure.pk, "due_on": TODAY, "note": "Asked for"}
    )
    planned = Inspection.objects.get(machine=machine)
    assert (planned.due_on, planned.planned_by, planned.note) == (TODAY, planner, "Asked for")
    assert response.url == f"/inspections/{planned.pk}/book/"


@pytest.mark.parametrize("day", ["2026-11-01", "2099-01-01", "soon", ""])
def test_a_due_date_that_cannot_be_is_told(client, planner, day):
    procedure = Procedure.objects.get(code="yearly")
    response = client.post(f"/machines/{make_machine().pk}/plan/", {"procedure": procedure.pk, "due_on": day})
    assert response.status_code == 200 and response.context["form"].errors["due_on"]
    assert not Inspection.objects.exists()


def test_booking_and_moving(client, planner):
    inspection, technician = make_inspection(), make_person("technician")
    for days in (0, 3):
        day = TODAY + timedelta(days=days)
        client.post(f"/inspections/{inspection.pk}/book/", {"technician": technician.pk, "booked_on": day})
    inspection.refresh_from_db()
    assert (inspection.stage, inspection.technician, inspection.booked_on) == ("booked", technician, day)


def test_a_booking_that_leaves_the_area_short_asks_first(client, planner):
    inspection = make_inspection(make_machine(area=make_area(minimum_machines=1)))
    data = {"technician": make_person("technician").pk, "booked_on": TODAY}
    response = client.post(f"/inspections/{inspection.pk}/book/", data)
    assert "below its minimum of 1" in response.content.decode()
    client.post(f"/inspections/{inspection.pk}/book/", {**data, "although_short": "on"})
    inspection.refresh_from_db()
    assert inspection.stage == "booked"


def test_what_is_on_the_bench_is_not_moved(client, planner):
    technician = make_person("technician")
    inspection = make_open_inspection(by=technician)
    response = client.post(f"/inspections/{inspection.pk}/book/", {"technician": technician.pk, "booked_on": TODAY})
    assert "This inspection is in progress" in response.content.decode()
    inspection.refresh_from_db()
    assert inspection.stage == "on bench"


def test_voiding_keeps_the_reason(client, planner):
    inspection = make_inspection()
    client.post(f"/inspections/{inspection.pk}/void/", {"reason": "Machine away"})
    inspection.refresh_from_db()
    assert (inspection.stage, inspection.void_reason, inspection.voided_by) == ("void", "Machine away", planner)


@pytest.mark.parametrize("reason", ["", "   "])
def test_voiding_without_a_reason_is_told(client, planner, reason):
    inspection = make_inspection()
    response = client.post(f"/inspections/{inspection.pk}/void/", {"reason": reason})
    inspection.refresh_from_db()
    assert response.context["form"].errors["reason"] and inspection.stage == "planned"


def test_a_signed_inspection_is_not_voided(client, planner):
    signed = make_signed_inspection(by=make_person("technician"))
    response = client.post(f"/inspections/{signed.pk}/void/", {"reason": "Wrong machine"})
    signed.refresh_from_db()
    assert "Correct a signed inspection by an amendment" in response.content.decode() and signed.stage == "signed"


def test_machines_and_inspections_of_other_sites_are_not_found(client, planner):
    inspection = make_inspection()
    client.force_login(make_person("planner", sites=[make_site()]))
    pages = [
        f"/machines/{inspection.machine_id}/plan/",
        f"/inspections/{inspection.pk}/book/",
        f"/inspections/{inspection.pk}/void/",
    ]
    assert [client.get(page).status_code for page in pages] == [404, 404, 404]
    assert [client.post(page, {"reason": "x"}).status_code for page in pages] == [404, 404, 404]
