"""The figures of the work: hand-counted cases."""

from collections import defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fleet.actions import change_site, move_machine
from inspections.actions import book_inspection, open_inspection, record_attempt, void_inspection
from inspections.kept.due_dates import DUE_DATES
from inspections.kept.keeping import compare
from inspections.kept.work_figures import work_figures
from inspections.models import Inspection, Procedure
from inspections.schedule.bookings import bookings_by_week
from inspections.schedule.on_time import COUNTED, default_period, due_dates
from inspections.schedule.on_time_figures import DIMENSIONS, split_figure
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
from tests.inspections.schedule.due_date_histories import (
    Department,
    Planned,
    answers,
    moment,
    never_above,
    plain_histories,
    share,
    steps,
)

FAR = date(2040, 1, 1)
TRICKS = (
    lambda at: {"state": "void"},
    lambda at: {"state": "open"},  # planned again beside it, and only that one is done
    lambda at: {"state": "signed", "signed_at": at, "is_complete": False},
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
    assert (figures.due, figures.overdue, figures.on_time.percent) == (0, 0, None)


def counts(figure):
    return {answer: number for answer, _, number in figure.by_answer if number}


def test_on_time_is_of_all_due_dates_that_are_past(person, yearly):
    """Three on time, one late, one not signed: 3 of 5."""
    window = timedelta(days=yearly.window_days)
    for days in (0, 10, -10):
        signed(person, due_on=TODAY - timedelta(days=60), at=NOON - timedelta(days=60 + days))
    signed(person, due_on=TODAY - window - timedelta(days=1), at=NOON)
    make_inspection(procedure=yearly, due_on=TODAY - window - timedelta(days=1))
    figures = work_figures(person, TODAY)
    assert counts(figures.on_time) == {"on time": 3, "late": 1, "open": 1}
    assert (figures.overdue, figures.on_time.counted, figures.on_time.percent) == (1, 5, 60)


def test_the_last_day_of_the_window_is_on_time_and_counts_the_day_after(person, yearly):
    signed(person, due_on=TODAY - timedelta(days=yearly.window_days), at=NOON)
    assert work_figures(person, TODAY).on_time.counted == 0
    assert work_figures(person, TODAY + timedelta(days=1)).on_time.percent == 100


def test_the_day_of_a_signature_is_that_of_the_site(person, yearly):
    """Late by UTC, still the last day of the window in Honolulu, ten hours behind."""
    closes_on = TODAY - timedelta(days=1)
    at = datetime(2026, 11, 2, 6, 0, tzinfo=UTC)
    due_on = closes_on - timedelta(days=yearly.window_days)
    for zone in ("Pacific/Honolulu", "UTC"):
        signed(person, due_on=due_on, at=at, machine=make_machine(area=make_area(make_site(time_zone=zone))))
    assert counts(work_figures(person, TODAY).on_time) == {"on time": 1, "late": 1}


def test_another_time_zone_of_the_site_moves_no_signature(person, yearly):
    """Noon in UTC is 02:00 of the day after in Kiritimati, fourteen hours ahead: the widest zone there is."""
    site = make_site(time_zone="Pacific/Kiritimati")
    machine = make_machine(area=make_area(site))
    signed(person, due_on=TODAY - timedelta(days=yearly.window_days), at=NOON, machine=machine)
    change_site(site, time_zone="UTC", by=person, at=NOON)
    assert counts(work_figures(person, TODAY + timedelta(days=1)).on_time) == {"late": 1}


def test_a_due_date_counts_in_the_month_of_its_last_day_and_the_eleven_after(person, yearly):
    signed(person, due_on=TODAY - timedelta(days=60), at=NOON - timedelta(days=60))
    """Its last day is 3 October, 30 days after it was due."""
    assert default_period(TODAY) == (date(2025, 12, 1), TODAY)
    assert work_figures(person, date(2027, 9, 30)).on_time.counted == 1
    assert work_figures(person, date(2027, 10, 1)).on_time.counted == 0


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
    begun = make_inspection(procedure=yearly)
    book_inspection(begun, technician=technician, booked_on=TODAY, by=person, at=NOON)
    open_inspection(begun, by=technician, at=NOON)
    [(found, weeks, total)] = bookings_by_week(Inspection.objects.all(), TODAY).rows
    assert (found, [number for _, number in weeks], total) == (technician, [2, 1, 0, 0, 0, 0], 3)


def shares(answered, today):
    """The share in all and of each month, on a day."""
    by_month = defaultdict(list)
    for closes_on, answer in answered:
        if closes_on < today and answer in COUNTED:
            by_month[None].append(answer)
            by_month[closes_on.replace(day=1)].append(answer)
    return {month: Fraction(found.count("on time"), len(found)) for month, found in by_month.items()}


@pytest.fixture
def department(person, yearly):
    technician = make_person("technician")
    return lambda: Department(make_machine(), yearly, person, technician)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=30
)
@given(steps)
def test_nothing_that_voids_defers_attempts_books_or_plans_raises_the_figure(department, drawn):
    """By the database, on that day and later, in all and in every month; and it agrees with brute force."""
    department = department()
    before = []
    for step, number in drawn:
        may_not_raise = department.do(step, number)
        rows = due_dates(Inspection.objects.filter(machine=department.machine), date(2026, 1, 1), FAR, FAR)
        answered = list(rows.values_list("closes_on", "answer"))
        assert list(compare(DUE_DATES)) == []
        brute_force = answers(department.history(), FAR)
        assert sorted(answered) == sorted((first.closes, answer) for first, answer in brute_force)
        for days in (0, 45, 500) if may_not_raise else ():
            was, now = (shares(one, department.day + timedelta(days=days)) for one in (before, answered))
            assert all(never_above(now[month], was.get(month)) for month in now), step
        before = answered


@settings(deadline=None, max_examples=300)
@given(plain_histories(), st.integers(0, 9), st.integers(0, 200), st.integers(0, 200), st.sampled_from(TRICKS))
def test_no_trick_beats_signing_what_was_due(history, number, due_after, done_after, trick):
    """Of the work of one day: planned again as another due date it counts no more than for the best of those open.

    What another inspection answered meanwhile, or answers later as the same due date, is left out: then the work of
    that day is for a further due date. So is a due date that the history has already: that one is not another.
    """
    left = [one for one in history if one.state == "open"]
    assume(left)
    due, start = left[number % len(left)], moment(max(one.planned_at for one in history).date())
    signed_at = start + timedelta(days=done_after)
    complete = [one for one in history if one.is_complete]
    assume(not any(one.due == due.due for one in complete))
    assume(not any(due.opens <= one.signed_on and one.signed_at <= signed_at for one in complete))
    honest = [[chosen.signed(signed_at) if one is chosen else one for one in history] for chosen in left]
    later = start.date() + timedelta(days=due_after)
    assume(later not in {one.due for one in history})
    window = due.closes - due.due
    again = Planned(len(history), later, later - window, later + window, start, "open").signed(signed_at)
    tricked = [replace(one, **trick(start)) if one is due else one for one in history] + [again]
    open_dates = {one.due for one in left}
    closing = [one.closes for one in history if one.due in open_dates]
    for days in (0, 100, 600):
        today = max(signed_at.date(), *closing) + timedelta(days=1 + days)
        assert share(tricked, today) is None or share(tricked, today) <= max(share(one, today) or 0 for one in honest)


def test_voiding_and_planning_again_with_a_later_due_date_stays_a_miss(person, yearly):
    machine, due_on = make_machine(), TODAY - timedelta(days=100)
    missed = make_inspection(machine, yearly, due_on=due_on, at=NOON - timedelta(days=150))
    void_inspection(missed, reason="Not found", by=person, at=NOON)
    signed(person, due_on=TODAY + timedelta(days=20), at=NOON + timedelta(days=20), machine=machine)
    figure = work_figures(person, TODAY + timedelta(days=100)).on_time
    assert (counts(figure), figure.percent) == ({"voided": 1, "instead": 1}, 0)


def test_voiding_before_the_window_ends_stays_a_miss_once_it_is_past(person, yearly):
    void_inspection(make_inspection(procedure=yearly, due_on=TODAY), reason="Away", by=person, at=NOON)
    assert work_figures(person, TODAY).on_time.counted == 0
    assert counts(work_figures(person, TODAY + timedelta(days=60)).on_time) == {"voided": 1}


def test_a_due_date_that_is_planned_again_keeps_the_window_that_was_promised_first(person, yearly):
    """The procedure has got a wider window meanwhile."""
    machine, due_on = make_machine(), TODAY - timedelta(days=60)
    void_inspection(make_inspection(machine, yearly, due_on=due_on), reason="Twice", by=person, at=NOON)
    Procedure.objects.update(window_days=90)
    make_inspection(machine, Procedure.objects.get(pk=yearly.pk), due_on=due_on)
    assert counts(work_figures(person, TODAY).on_time) == {"open": 1}


def test_a_due_date_met_by_work_for_another_one_counts_once(person, yearly):
    machine = make_machine()
    make_inspection(machine, yearly, due_on=TODAY - timedelta(days=60), at=NOON - timedelta(days=90))
    signed(person, due_on=TODAY - timedelta(days=50), at=NOON - timedelta(days=62), machine=machine)
    assert counts(work_figures(person, TODAY).on_time) == {"on time": 1, "elsewhere": 1}


def test_a_due_date_planned_twice_counts_once(person, yearly):
    machine, due_on = make_machine(), TODAY - timedelta(days=60)
    void_inspection(make_inspection(machine, yearly, due_on=due_on), reason="Twice", by=person, at=NOON)
    make_inspection(machine, yearly, due_on=due_on)
    assert counts(work_figures(person, TODAY).on_time) == {"open": 1}


def test_early_work_is_on_time_and_is_shown(person, yearly):
    window = timedelta(days=yearly.window_days)
    for days in (0, 1):
        signed(person, due_on=TODAY + window + timedelta(days=days), at=NOON)
    figure = work_figures(person, TODAY + timedelta(days=90)).on_time
    assert (counts(figure), figure.early) == ({"on time": 2}, 1)


def test_a_missed_due_date_shows_the_last_attempt_that_was_made_in_time(person, yearly):
    first = make_inspection(procedure=yearly, due_on=TODAY)
    for days, kind in ((0, "in use"), (2, "not located"), (90, "in use")):
        record_attempt(first, kind=kind, by=person, at=NOON + timedelta(days=days))
    figure = work_figures(person, TODAY + timedelta(days=100)).on_time
    assert (counts(figure), dict(figure.excuses), figure.percent) == ({"open": 1}, {"not located": 1}, 0)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_split_adds_up_to_the_figure_in_all(person, yearly, dimension):
    for days in (40, 70, 110):
        signed(person, due_on=TODAY - timedelta(days=days), at=NOON - timedelta(days=days))
        make_inspection(procedure=yearly, due_on=TODAY - timedelta(days=days))
    rows = due_dates(Inspection.objects.with_area_where_due(), *default_period(TODAY), TODAY)
    figure, lines = split_figure(rows, dimension)
    assert (figure.on_time, figure.counted) == (3, 6)
    assert sum(line.figure.counted for line in lines) == 6 and sum(line.figure.on_time for line in lines) == 3
    assert len(lines) == {"month": 3, "class": 1, "procedure": 1}.get(dimension, len(lines))


@pytest.fixture
def moved(person, yearly):
    """A machine that was in Alder of North on the last day of a missed due date, and is in Cedar of South since."""
    areas = make_area(make_site(name="North"), name="Alder"), make_area(make_site(name="South"), name="Cedar")
    machine = make_machine(area=areas[0])
    missed = make_inspection(machine, procedure=yearly, due_on=TODAY - timedelta(days=100))
    move_machine(machine, area=areas[1], on=missed.closes_on + timedelta(days=1), evidence="Order 7", by=None, at=NOON)
    return areas


@pytest.mark.parametrize(("dimension", "name"), [("area", "Alder, North"), ("site", "North")])
def test_a_due_date_counts_where_the_machine_was_on_its_last_day(moved, dimension, name):
    rows = due_dates(Inspection.objects.with_area_where_due(), *default_period(TODAY), TODAY)
    _, lines = split_figure(rows, dimension)
    assert [(line.label, line.figure.missed) for line in lines] == [(name, 1)]


def test_moving_a_machine_away_takes_no_missed_due_date_from_a_site(moved):
    there, elsewhere = (make_person("planner", sites=[area.site]) for area in moved)
    assert work_figures(there, TODAY).on_time.missed == 1
    assert work_figures(elsewhere, TODAY).on_time.missed == 0
