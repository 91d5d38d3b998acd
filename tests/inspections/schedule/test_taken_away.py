"""A due date that a planning rule took away before its window was no work to do; all else that is void is a miss."""

from datetime import timedelta

import pytest

from fleet.models import Machine
from inspections.actions import add_planning_rule, end_planning_rule, plan_due_inspections, void_inspection
from inspections.models import Inspection, Procedure, Stage
from inspections.schedule.on_time import default_period, due_dates
from inspections.schedule.on_time_figures import figure_of
from inspections.schedule.rhythms import own_interval
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
)

DAY = timedelta(days=1)
NOT_PLANNED = {"is_planned": False, "interval_months": None, "window_days": None}


@pytest.fixture
def planner(db):
    load_all_procedures()
    return make_person("planner")


@pytest.fixture
def due(planner):
    """What the nightly plan gave a machine that was inspected a while ago."""
    yearly, at = Procedure.objects.get(code="yearly"), NOON - 300 * DAY
    made = make_signed_inspection(make_machine(), yearly, by=planner, at=at, due_on=at.date())
    due_on = own_interval(yearly).after(at.date())
    return make_inspection(made.machine, yearly, due_on=due_on, at=at)


def rule(planner, at, **fields):
    fields = {"reach": "machine", "target": Machine.objects.get()} | fields
    return add_planning_rule(
        procedure=Procedure.objects.get(code="yearly"), source="policy", from_date=at.date(), reason="Not used",
        reference="Policy 7", by=planner, at=at, **fields,
    )[0]  # fmt: skip


def answers(planner, today):
    found = figure(planner, today).answers
    return {str(word): count for word, count in found.items() if count}


def figure(planner, today):
    yearly = Inspection.objects.visible_where_due(planner).filter(procedure__code="yearly")
    return figure_of(due_dates(yearly, *default_period(today), today))


@pytest.mark.parametrize(
    ("days", "answer"),
    [
        (-60, "taken away"),
        (-2, "taken away"),
        (-1, "voided"),
        (0, "voided"),
        (1, "voided"),
        (30, "voided"),
        (70, "voided"),
    ],
)  # fmt: skip
def test_a_rule_takes_a_due_date_away_only_before_its_window(planner, due, days, answer):
    """`days` from noon UTC of the window's first day; a day before, it has begun in the far east. 30 days a side."""
    at = NOON + (due.opens_on - TODAY + days * DAY)
    rule(planner, at, **NOT_PLANNED)
    due.refresh_from_db()
    assert due.stage == Stage.VOID
    after = due.closes_on + 200 * DAY
    assert answers(planner, after) == {answer: 1}
    assert figure(planner, after).counted == (answer == "voided")


def test_a_rule_that_ends_takes_away_what_it_alone_had_asked_for(planner):
    make_machine()
    rule(planner, NOON, reach="all", target=None, **NOT_PLANNED)
    asking = rule(planner, NOON, interval_months=12, window_days=14)
    plan_due_inspections(today=TODAY, at=NOON)
    [planned] = Inspection.objects.planned().filter(procedure__code="yearly")
    Inspection.objects.filter(pk=planned.pk).update(
        due_on=TODAY + 60 * DAY, opens_on=TODAY + 46 * DAY, closes_on=TODAY + 74 * DAY
    )
    end_planning_rule(asking, until_date=TODAY + DAY, reason="Sold", by=planner, at=NOON + DAY)
    assert answers(planner, TODAY + 300 * DAY) == {"taken away": 1}


def test_a_person_who_writes_the_same_reason_takes_nothing_away(planner, due):
    at = NOON + (due.opens_on - TODAY - 60 * DAY)
    made = rule(planner, at, interval_months=12, window_days=due.procedure.window_days)
    due.refresh_from_db()
    reason = f"Not planned here any more, by planning rule {made.pk}."
    void_inspection(due, reason=reason, by=planner, at=at + timedelta(minutes=1))
    assert answers(planner, due.closes_on + 200 * DAY) == {"voided": 1}


def test_a_due_date_that_is_asked_for_again_counts_and_what_was_taken_away_hides_no_success(planner, due):
    at = NOON + (due.opens_on - TODAY - 60 * DAY)
    away = rule(planner, at, **NOT_PLANNED)
    end_planning_rule(away, until_date=at.date() + DAY, reason="Used again", by=planner, at=at + DAY)
    plan_due_inspections(today=at.date() + DAY, at=at + DAY)
    again = Inspection.objects.planned().get(procedure__code="yearly")
    assert again.due_on == due.due_on
    assert answers(planner, due.closes_on + 200 * DAY) == {"open": 1}
    void_inspection(again, reason="Twice", by=planner, at=at + 2 * DAY)
    assert answers(planner, due.closes_on + 200 * DAY) == {"voided": 1}


def test_work_after_a_due_date_that_was_taken_away_is_on_time(planner, due):
    rule(planner, NOON + (due.opens_on - TODAY - 60 * DAY), **NOT_PLANNED)
    later = due.closes_on + 100 * DAY
    signed_at = NOON + (later - TODAY)
    make_signed_inspection(due.machine, due.procedure, by=planner, at=signed_at, due_on=later)
    assert answers(planner, later + 100 * DAY) == {"taken away": 1, "on time": 1}
