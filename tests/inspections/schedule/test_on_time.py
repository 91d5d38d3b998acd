"""The figures of the work: hand-counted cases."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import book_inspection, plan_inspection, void_inspection
from inspections.models import Inspection, Procedure
from inspections.schedule.bookings import bookings_by_week
from inspections.schedule.on_time import work_figures
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)


@pytest.fixture
def person(db):
    load_all_procedures()
    return make_person("planner")


@pytest.fixture
def yearly(person):
    return Procedure.objects.get(code="yearly")


def signed(person, *, due_on, at, machine=None):
    return make_signed_inspection(machine, by=person, at=at, due_on=due_on)


def test_without_work_there_is_no_share(person):
    figures = work_figures(person, TODAY)
    assert (figures.due, figures.overdue, figures.on_time_percent) == (0, 0, None)


def test_on_time_is_of_all_signed_and_all_overdue(person, yearly):
    """Three on time, one late, one overdue: 3 of 5."""
    window = timedelta(days=yearly.window_days)
    for days in (0, 10, -10):
        signed(person, due_on=TODAY - timedelta(days=60), at=NOON - timedelta(days=60 + days))
    signed(person, due_on=TODAY - window - timedelta(days=1), at=NOON)
    make_inspection(procedure=yearly, due_on=TODAY - window - timedelta(days=1))
    figures = work_figures(person, TODAY)
    assert (figures.signed, figures.on_time, figures.overdue, figures.on_time_percent) == (4, 3, 1, 60)


def test_the_last_day_of_the_window_is_on_time(person, yearly):
    signed(person, due_on=TODAY - timedelta(days=yearly.window_days), at=NOON)
    assert work_figures(person, TODAY).on_time == 1


def test_the_day_of_a_signature_is_that_of_the_site(person, yearly):
    """Late by UTC, still the last day of the window in Honolulu, ten hours behind."""
    closes_on = TODAY - timedelta(days=1)
    at = datetime(2026, 11, 2, 6, 0, tzinfo=UTC)
    due_on = closes_on - timedelta(days=yearly.window_days)
    for zone in ("Pacific/Honolulu", "UTC"):
        signed(person, due_on=due_on, at=at, machine=make_machine(area=make_area(make_site(time_zone=zone))))
    figures = work_figures(person, TODAY)
    assert (figures.signed, figures.on_time) == (2, 1)


def test_a_signature_is_late_where_the_next_day_has_begun(person, yearly):
    """Noon in UTC is 02:00 of the day after in Kiritimati, fourteen hours ahead: the widest zone there is."""
    machine = make_machine(area=make_area(make_site(time_zone="Pacific/Kiritimati")))
    signed(person, due_on=TODAY - timedelta(days=yearly.window_days), at=NOON, machine=machine)
    figures = work_figures(person, TODAY + timedelta(days=1))
    assert (figures.signed, figures.on_time) == (1, 0)


def test_what_was_signed_over_a_year_ago_does_not_count(person):
    signed(person, due_on=TODAY, at=NOON - timedelta(days=366))
    assert work_figures(person, TODAY).signed == 0


def test_due_and_overdue_do_not_overlap(person, yearly):
    for days in (-100, -1, 0, 30, 31):
        make_inspection(procedure=yearly, due_on=TODAY + timedelta(days=days))
    figures = work_figures(person, TODAY)
    assert (figures.due, figures.overdue) == (3, 1)


def test_figures_are_those_of_the_sites_that_a_person_sees(yearly):
    elsewhere = make_person("planner", sites=[make_site()])
    make_inspection(procedure=yearly, due_on=TODAY)
    assert work_figures(elsewhere, TODAY).due == 0


def test_bookings_are_counted_by_technician_and_week(person, yearly):
    """2 Nov 2026 is a Monday."""
    technician = make_person("technician")
    for days in (0, 6, 7, 50):
        inspection = make_inspection(procedure=yearly)
        book_inspection(inspection, technician=technician, booked_on=TODAY + timedelta(days=days), by=person, at=NOON)
    [(found, weeks, total)] = bookings_by_week(Inspection.objects.all(), TODAY).rows
    assert (found, [number for _, number in weeks], total) == (technician, [2, 1, 0, 0, 0, 0], 3)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.integers(-200, 60), st.booleans()), min_size=1, max_size=5), st.booleans())
def test_voiding_work_never_changes_the_share(person, yearly, drawn, is_planned_again):
    """Due days before or after today; some of the open work is voided, and perhaps planned again on a later day."""
    site = make_site()
    narrowed = make_person("planner", sites=[site])
    signed(person, due_on=TODAY, at=NOON, machine=make_machine(area=make_area(site)))
    opened = [
        make_inspection(make_machine(area=make_area(site)), yearly, due_on=TODAY + timedelta(days=days))
        for days, _ in drawn
    ]
    before = work_figures(narrowed, TODAY)
    for inspection, (_, is_voided) in zip(opened, drawn, strict=True):
        if is_voided:
            void_inspection(inspection, reason="Not found", by=person, at=NOON)
            if is_planned_again:
                plan_inspection(inspection.machine, yearly, due_on=TODAY + timedelta(days=90), by=person, at=NOON)
    after = work_figures(narrowed, TODAY)
    assert (after.on_time_percent, after.counted) == (before.on_time_percent, before.counted)


def test_void_work_whose_due_date_was_met_or_is_still_overdue_counts_once(person, yearly):
    machine, due_on = make_machine(), TODAY - timedelta(days=60)
    void_inspection(make_inspection(machine, yearly, due_on=due_on), reason="Twice", by=person, at=NOON)
    make_inspection(machine, yearly, due_on=due_on)
    figures = work_figures(person, TODAY)
    assert (figures.overdue, figures.voided, figures.counted) == (1, 0, 1)


def test_early_work_is_on_time_and_is_shown(person, yearly):
    window = timedelta(days=yearly.window_days)
    for days in (0, 1):
        signed(person, due_on=TODAY + window + timedelta(days=days), at=NOON)
    figures = work_figures(person, TODAY)
    assert (figures.signed, figures.on_time, figures.early) == (2, 2, 1)
