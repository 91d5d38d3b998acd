"""Planning by rules: what is planned where, what moves when a rule begins or ends."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import (
    add_planning_rule,
    book_inspection,
    carry_out_rules,
    end_planning_rule,
    plan_due_inspections,
    plan_inspection,
    sign_inspection,
    void_inspection,
)
from inspections.actions.planning import PLANNED_AT_ONCE, _plan_batch
from inspections.errors import Refused
from inspections.models import Inspection, PlanningRule, Procedure
from inspections.schedule.rhythms import rhythm_on
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
    make_site,
)
from tests.inspections.scenes import make_scene

LATER = NOON + timedelta(days=1)
SPRING = NOON.replace(month=5)  # 2 May 2026


@pytest.fixture
def planner(db):
    load_all_procedures()
    return make_person("planner")


def procedure(code):
    return Procedure.objects.get(code=code)


def add(planner, code, reach="all", target=None, *, from_date=TODAY, at=NOON, **fields):
    said = {"reason": "Committee 4", "reference": "Policy 7, page 2", "source": "policy"}
    if fields.get("is_planned", True):
        fields.setdefault("window_days", 7)
    rule, moved = add_planning_rule(
        procedure=procedure(code), reach=reach, target=target, from_date=from_date, by=planner, at=at,
        **{**said, **fields},
    )  # fmt: skip
    return rule, moved


def due(machine, code):
    found = Inspection.objects.open().filter(machine=machine, procedure__code=code)
    return list(found.values_list("due_on", flat=True))


def plan(today=TODAY, at=NOON):
    return plan_due_inspections(today=today, at=at)


def test_a_procedure_without_an_interval_is_planned_only_where_a_rule_says_so(planner):
    with_alarm = make_machine(features={"o2-supply-alarm": "fitted"})
    without = make_machine(features={"o2-supply-alarm": "not fitted"})
    add(planner, "weekly", "feature", "o2-supply-alarm", interval_days=7, window_days=2)
    plan()
    assert (due(with_alarm, "weekly"), due(without, "weekly")) == ([TODAY], [])
    inspection = Inspection.objects.get(machine=with_alarm, procedure__code="weekly")
    assert inspection.closes_on == TODAY + timedelta(days=2)


def test_a_procedure_with_an_interval_is_not_planned_where_a_rule_says_so(planner):
    site = make_site()
    here, there = make_machine(area=make_area(site)), make_machine(area=make_area(site))
    add(planner, "half-yearly", is_planned=False)
    add(planner, "half-yearly", "area", here.area, interval_months=6)
    plan()
    assert (len(due(here, "half-yearly")), due(there, "half-yearly")) == (1, [])
    assert len(due(there, "yearly")) == 1


def test_a_rule_for_one_machine_wins_and_the_rest_lose(planner):
    machine = make_machine()
    all_, _ = add(planner, "yearly", interval_months=12)
    own, _ = add(planner, "yearly", "machine", machine, interval_months=3)
    rhythm = rhythm_on(machine, procedure("yearly"), TODAY)
    assert (rhythm.rule.number, [one.number for one in rhythm.lost]) == (own.pk, [all_.pk])
    make_signed_inspection(machine, procedure("yearly"), by=planner, at=NOON)
    plan()
    assert due(machine, "yearly") == [date(2027, 2, 2)]


def test_no_rule_makes_work_due_before_its_own_first_day(planner):
    """Last done two years ago, when nobody asked for it again: due on the first day of the rule, not long overdue."""
    machine = make_machine()
    make_signed_inspection(machine, procedure("weekly"), by=planner, at=NOON - timedelta(days=730))
    add(planner, "weekly", interval_days=7)
    plan()
    assert due(machine, "weekly") == [TODAY]


def test_a_signature_plans_the_next_one_by_the_rule_that_wins(tmp_path, db):
    scene = make_scene(tmp_path)
    scene.complete()
    said = {"reason": "Old", "reference": "Manual, page 3", "source": "manufacturer", "from_date": TODAY}
    model = scene.machine.model
    add_planning_rule(
        procedure=scene.procedure, reach="model", target=model, interval_months=4, window_days=5, by=scene.other,
        at=NOON, **said,
    )  # fmt: skip
    sign_inspection(scene.inspection, by=scene.technician, at=NOON)
    planned = Inspection.objects.get(machine=scene.machine, stage="planned")
    assert (planned.due_on, planned.opens_on) == (date(2027, 3, 2), date(2027, 2, 25))


def test_a_signature_plans_nothing_where_a_rule_says_not_planned(tmp_path, db):
    scene = make_scene(tmp_path)
    scene.complete()
    add_planning_rule(
        procedure=scene.procedure, reach="machine", target=scene.machine, is_planned=False, from_date=TODAY,
        reason="On loan", reference="Contract 4", source="policy", by=scene.other, at=NOON,
    )  # fmt: skip
    sign_inspection(scene.inspection, by=scene.technician, at=NOON)
    assert not Inspection.objects.open().filter(machine=scene.machine).exists()


def test_a_new_rule_moves_what_is_planned_by_its_interval_and_says_how_many(planner):
    """Done on 2 May: due on 2 May 2027 by the procedure, on 2 Feb 2027 by the rule."""
    moved_one, booked = make_machine(), make_machine()
    for machine in (moved_one, booked):
        make_signed_inspection(machine, procedure("yearly"), by=planner, at=SPRING)
    plan()
    taken = Inspection.objects.get(machine=booked, procedure__code="yearly", stage="planned")
    book_inspection(taken, technician=make_person("technician"), booked_on=TODAY, by=planner, at=NOON)
    by_hand = make_machine()
    plan_inspection(by_hand, procedure("yearly"), due_on=date(2027, 6, 1), by=planner, at=NOON)
    _, moved = add(planner, "yearly", interval_months=9)
    assert due(moved_one, "yearly") == [date(2027, 2, 2)]
    assert (due(booked, "yearly"), due(by_hand, "yearly")) == ([date(2027, 5, 2)], [date(2027, 6, 1)])
    assert (moved.earlier, moved.later, moved.kept) == (1, 0, 1)
    assert moved.words.startswith("Planned inspections: 1 moved to an earlier date; 1 stayed where they were")
    assert carry_out_rules(today=TODAY, at=NOON).words == "No planned inspection moved."


def test_a_date_that_would_have_passed_becomes_today(planner):
    machine = make_machine()
    make_signed_inspection(machine, procedure("yearly"), by=planner, at=SPRING)
    plan()
    add(planner, "yearly", interval_months=3)
    assert due(machine, "yearly") == [TODAY]


def test_what_was_never_inspected_keeps_its_date_within_one_interval(planner):
    """First dates of a new department lie spread over the year: a shorter interval does not heap them up today."""
    machines = [make_machine() for _ in range(3)]
    plan()
    for number, machine in enumerate(machines):
        spread = Inspection.objects.filter(machine=machine, procedure__code="yearly")
        spread.update(due_on=TODAY + timedelta(days=100 * number))
    add(planner, "yearly", interval_months=6)
    assert [due(one, "yearly")[0] for one in machines] == [TODAY, TODAY + timedelta(days=100), date(2027, 5, 2)]
    assert Inspection.objects.filter(procedure__code="yearly", due_on=date(2027, 5, 2)).count() == 1


def test_an_overdue_inspection_is_never_moved_by_a_rule(planner):
    machine = make_machine()
    make_signed_inspection(machine, procedure("yearly"), by=planner, at=NOON - timedelta(days=500))
    plan()
    before = due(machine, "yearly")
    add(planner, "yearly", interval_months=24)
    assert due(machine, "yearly") == before
    assert Inspection.objects.overdue(TODAY).filter(machine=machine).exists()


def test_a_rule_that_begins_later_moves_the_dates_on_its_first_day(planner):
    machine = make_machine()
    make_signed_inspection(machine, procedure("yearly"), by=planner, at=SPRING)
    plan()
    _, moved = add(planner, "yearly", interval_months=9, from_date=TODAY + timedelta(days=10))
    assert moved.words == "No planned inspection moved." and due(machine, "yearly") == [date(2027, 5, 2)]
    plan(TODAY + timedelta(days=9))
    assert due(machine, "yearly") == [date(2027, 5, 2)]
    plan(TODAY + timedelta(days=12), at=NOON + timedelta(days=12))
    assert due(machine, "yearly") == [date(2027, 2, 2)]


def test_a_rule_that_ends_gives_the_dates_back_to_the_procedure(planner):
    machine = make_machine()
    make_signed_inspection(machine, procedure("yearly"), by=planner, at=SPRING)
    rule, _ = add(planner, "yearly", interval_months=9)
    plan()
    moved = end_planning_rule(rule, until_date=TODAY, reason="Manual was revised", by=planner, at=NOON)
    assert (due(machine, "yearly"), moved.later) == ([date(2027, 5, 2)], 1)
    with pytest.raises(Refused, match="has an end date already"):
        end_planning_rule(rule, until_date=TODAY, reason="Once more", by=planner, at=NOON)


def test_what_is_no_longer_planned_is_void_and_names_the_rule(planner):
    machine = make_machine()
    plan()
    rule, moved = add(planner, "half-yearly", "machine", machine, is_planned=False)
    ended = Inspection.objects.get(machine=machine, procedure__code="half-yearly")
    assert (ended.stage, ended.void_reason) == ("void", f"Not planned here any more, by planning rule {rule.pk}.")
    assert (moved.ended, ended.voided_by, plan()) == (1, planner, 0)


def test_a_later_rule_of_the_same_scope_ends_the_earlier_one(planner):
    first, _ = add(planner, "yearly", interval_months=9)
    second, _ = add(planner, "yearly", interval_months=6, from_date=TODAY + timedelta(days=5), at=LATER)
    first.refresh_from_db()
    assert (first.until_date, second.until_date) == (second.from_date, None)
    assert [one.pk for one in PlanningRule.objects.in_force(TODAY)] == [first.pk]
    assert [one.pk for one in PlanningRule.objects.in_force(second.from_date)] == [second.pk]
    with pytest.raises(Refused, match="begins on"):
        add(planner, "yearly", interval_months=8, from_date=TODAY + timedelta(days=2), at=LATER)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"interval_months": 6, "from_date": TODAY - timedelta(days=1)}, "is in the past"),
        ({"interval_months": 6, "interval_days": 7}, "months or in days, one of the two"),
        ({}, "months or in days, one of the two"),
        ({"is_planned": False, "interval_months": 6}, "one of the two"),
        ({"interval_months": 6, "reason": "n/a"}, "needs the reason"),
        ({"interval_months": 6, "reference": "none"}, "needs the reference"),
    ],
)
def test_a_rule_that_says_too_little_or_too_much_is_refused(planner, fields, said):
    with pytest.raises(Refused, match=said):
        add(planner, "yearly", **fields)
    assert not PlanningRule.objects.exists()


def test_planning_takes_as_many_queries_for_a_full_batch_as_for_one_machine(planner):
    """5,000 machines are 50 batches of each procedure; what a batch asks does not grow with its machines."""
    area, model = make_area(), make_model(features={"o2-supply-alarm": "fitted"})
    machines = [make_machine(area=area, model=model) for _ in range(12)]
    add(planner, "weekly", "feature", "o2-supply-alarm", interval_days=7)
    for machine in machines[:6]:
        add(planner, "weekly", "machine", machine, interval_days=14)

    def queries(found):
        with CaptureQueriesContext(connection) as asked:
            assert _plan_batch(procedure("weekly"), found, today=TODAY, at=NOON, by=None) == len(found)
        return len(asked)

    assert PLANNED_AT_ONCE == 100
    keys = [one.pk for one in machines]
    queries(keys[:1])  # the first that are due on a day make the row of their count
    assert queries(keys[1:2]) == queries(keys[2:]) <= 42  # 27 of them renew kept rows and counts of the batch


REACHES = ("machine", "feature", "model", "area", "site", "all")
SLOW = settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@SLOW
@given(
    st.lists(
        st.tuples(st.sampled_from(REACHES), st.sampled_from([None, 3, 6, 9, 18]), st.booleans()), min_size=2, max_size=4
    )
)
def test_each_machine_has_one_open_inspection_where_it_is_planned_and_none_elsewhere(planner, rules):
    """Rules come and go between nightly plans: no machine gets two, and each is dated by the rule that wins."""
    area = make_area()
    machines = [make_machine(area=area, features={"o2-analyser": "fitted"}) for _ in range(2)]
    first = machines[0]
    targets = {
        "machine": first, "feature": "o2-analyser", "model": first.model, "area": area, "site": area.site, "all": None,
    }  # fmt: skip
    for reach, months, ends in rules:
        fields = {"interval_months": months} if months else {"is_planned": False}
        rule, _ = add(planner, "yearly", reach, targets[reach], **fields)
        plan()
        if ends:
            end_planning_rule(rule, until_date=TODAY, reason="Tried", by=planner, at=NOON)
    for machine in machines:
        is_planned = rhythm_on(machine, procedure("yearly"), TODAY).is_planned
        plan()
        assert len(due(machine, "yearly")) == (1 if is_planned else 0)
    for one in PlanningRule.objects.in_force(TODAY):
        end_planning_rule(one, until_date=TODAY, reason="Next example", by=planner, at=NOON)
    for one in Inspection.objects.open():
        void_inspection(one, reason="Next example", by=planner, at=NOON)
