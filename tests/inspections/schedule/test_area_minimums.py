"""Which areas are left short on which days."""

from datetime import timedelta

import pytest

from fleet.actions import withdraw_machine
from fleet.models import Area
from inspections.actions import book_inspection
from inspections.schedule.area_minimums import areas_with_minimum, shortfalls, shortfalls_if_booked
from tests.factories import NOON, TODAY, make_area, make_inspection, make_machine, make_person


@pytest.fixture
def area(db):
    """An area of three machines that must keep two."""
    area = make_area(name="Main theatres", minimum_machines=2)
    for _ in range(3):
        make_machine(area=area)
    return area


def book(machine, day=TODAY):
    inspection = make_inspection(machine)
    book_inspection(inspection, technician=make_person("technician"), booked_on=day, by=None, at=NOON)
    return inspection


def short_days(last=TODAY + timedelta(days=30)):
    return [(one.day, one.left) for one in shortfalls(areas_with_minimum(Area.objects.all()), TODAY, last)]


def test_a_second_machine_booked_away_on_a_day_leaves_the_area_short(area):
    first, second, _ = area.machines.all()
    book(first)
    assert short_days() == []
    book(second)
    assert short_days() == [(TODAY, 1)]


def test_bookings_on_different_days_do_not_add_up(area):
    first, second, _ = area.machines.all()
    book(first)
    book(second, TODAY + timedelta(days=1))
    assert short_days() == []


def test_two_inspections_of_one_machine_take_it_away_once(area):
    machine = area.machines.first()
    book(machine)
    book(machine)
    assert short_days() == []


def test_a_withdrawn_machine_is_missing_already_and_not_twice_when_booked(area):
    first, second, _ = area.machines.all()
    withdraw_machine(first, by=None, at=NOON, reason="Leaks")
    book(first)
    assert short_days() == []
    book(second)
    assert short_days() == [(TODAY, 1)]


def test_a_booking_that_would_leave_the_area_short_is_told_beforehand(area):
    first, second, _ = area.machines.all()
    book(first)
    [told] = shortfalls_if_booked([make_inspection(second)], TODAY)
    assert str(told) == (
        f"{area} is left with 1 machine on 2 Nov 2026, below its minimum of 2 (3 in service, 2 booked that day)."
    )


def test_moving_a_booking_counts_it_on_the_new_day_only(area):
    first, second, _ = area.machines.all()
    moved, tomorrow = book(first), TODAY + timedelta(days=1)
    book(second, tomorrow)
    assert [one.day for one in shortfalls_if_booked([moved], tomorrow)] == [tomorrow]
    assert shortfalls_if_booked([moved], TODAY) == []


def test_booking_a_withdrawn_machine_takes_nothing_more_away(area):
    first, *_ = area.machines.all()
    withdraw_machine(first, by=None, at=NOON, reason="Leaks")
    assert shortfalls_if_booked([make_inspection(first)], TODAY) == []


def test_an_area_without_a_minimum_is_never_short(db):
    book(make_machine(area=make_area(minimum_machines=0)))
    assert short_days() == []


def test_areas_below_their_minimum_are_found(area):
    full = make_area(minimum_machines=1)
    make_machine(area=full)
    for machine in list(area.machines.all())[:2]:
        withdraw_machine(machine, by=None, at=NOON, reason="Leaks")
    assert [(found, found.in_service) for found in Area.objects.below_minimum()] == [(area, 1)]
