"""Where a site demands it, only competent people are booked and sign."""

from datetime import timedelta

import pytest

from fleet.models import Site
from inspections.actions import (
    book_inspection,
    confirm_competence,
    draft_signature,
    open_inspection,
    withdraw_calendar_entry,
)
from inspections.errors import Refused, StageRefused
from tests.factories import NOON, TODAY
from tests.inspections.calendar_scene import make_competent, make_department

DAY = TODAY + timedelta(days=8)


@pytest.fixture
def department(db, tmp_path):
    return make_department(tmp_path, machines=1, needs_competence=True)


def book(department, day=DAY):
    [inspection] = department.inspections
    book_inspection(inspection, technician=department.people[0], booked_on=day, by=department.planner, at=NOON)


def test_booking_needs_a_competence_that_reaches_to_the_day(department):
    with pytest.raises(StageRefused, match="no confirmed competence for"):
        book(department)
    competence = make_competent(department, department.people[0], last_day=DAY - timedelta(days=1))
    with pytest.raises(StageRefused, match="ends on"):
        book(department)
    book(department, DAY - timedelta(days=1))
    make_competent(department, department.people[0])
    book(department)
    withdraw_calendar_entry(competence, by=department.planner, at=NOON)
    book(department)


def test_a_competence_for_the_manufacturer_counts_for_each_of_its_models(department):
    manufacturer, ana = department.model.manufacturer, department.people[0]
    confirm_competence(ana, manufacturer=manufacturer, evidence="Course", by=department.planner, at=NOON)
    book(department)


def test_signing_needs_it_too_and_without_the_switch_nobody_is_asked(department):
    [inspection] = department.inspections
    ana = department.people[0]
    open_inspection(inspection, by=ana, at=NOON)
    assert any("no confirmed competence" in one for one in draft_signature(inspection, by=ana, at=NOON).reasons)
    make_competent(department, ana)
    assert not any("competence" in one for one in draft_signature(inspection, by=ana, at=NOON).reasons)
    Site.objects.update(needs_competence=False)
    inspection.refresh_from_db()
    other = department.people[1]
    assert not any("competence" in one for one in draft_signature(inspection, by=other, at=NOON).reasons)


def test_nobody_confirms_their_own_competence_or_one_for_nothing(department):
    ana, planner = department.people[0], department.planner
    with pytest.raises(Refused, match="of their own"):
        confirm_competence(ana, machine_model=department.model, evidence="Course", by=ana, at=NOON)
    with pytest.raises(Refused, match="Choose one of the three"):
        confirm_competence(ana, evidence="Course", by=planner, at=NOON)
    with pytest.raises(Refused, match="State what shows"):
        confirm_competence(ana, machine_model=department.model, evidence=" ", by=planner, at=NOON)
