"""A complete yearly settles the half-yearly that its version declares as contained."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import (
    book_inspection,
    open_inspection,
    plan_due_inspections,
    plan_inspection,
    settle_contained,
)
from inspections.at_bench.contained_procedures import lacking_steps, refuse_not_contained
from inspections.at_bench.procedure_files import read_procedures
from inspections.errors import ProcedureError
from inspections.kept.work_figures import work_figures
from inspections.models import ContainedInspection, Inspection, Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_machine, make_person, make_signed_inspection
from tests.rolled_back import rolled_back

DAY = timedelta(days=1)


@pytest.fixture
def planner(db):
    load_all_procedures()
    return make_person("planner")


def half_yearly():
    return Procedure.objects.get(code="half-yearly")


def sign_yearly(machine, by, at=NOON):
    signed = make_signed_inspection(machine, Procedure.objects.get(code="yearly"), by=by, at=at)
    return signed, settle_contained(signed, by=by, at=at)


def open_of(machine, code="half-yearly"):
    return Inspection.objects.open().filter(machine=machine, procedure__code=code)


def due_half_yearly(machine, planner, days):
    return plan_inspection(machine, half_yearly(), due_on=TODAY + days * DAY, by=planner, at=NOON)


def test_the_shipped_yearly_contains_every_step_of_the_half_yearly():
    contents = {content["code"]: content for content in read_procedures()}
    assert contents["yearly"]["contains"] == ["half-yearly"]
    codes = {code: {step["code"] for step in content["step"]} for code, content in contents.items()}
    assert codes["half-yearly"] <= codes["yearly"]
    for content in contents.values():
        refuse_not_contained(content, contents)


def test_a_yearly_settles_the_half_yearly_by_name_and_plans_the_next_one(planner):
    machine = make_machine()
    planned = due_half_yearly(machine, planner, 5)
    signed, notes = sign_yearly(machine, planner)
    planned.refresh_from_db()
    assert (planned.stage, planned.voided_by) == ("void", planner)
    assert planned.void_reason == f"Settled by {signed}, Yearly inspection, which contains it."
    assert [(one.settled, one.done_on) for one in notes] == [(planned, TODAY)]
    assert list(open_of(machine).values_list("due_on", flat=True)) == [date(2027, 5, 2)]


def test_one_that_is_booked_is_settled_and_one_in_progress_goes_on(planner):
    technician, booked_machine, begun_machine = make_person("technician"), make_machine(), make_machine()
    booked, begun = (due_half_yearly(one, planner, 5) for one in (booked_machine, begun_machine))
    book_inspection(booked, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    open_inspection(begun, by=technician, at=NOON)
    for machine in (booked_machine, begun_machine):
        sign_yearly(machine, planner)
    for one in (booked, begun):
        one.refresh_from_db()
    assert (booked.stage, begun.stage) == ("void", "on bench")
    assert ContainedInspection.objects.filter(settled=None).count() == 1


def test_without_an_open_one_the_next_is_still_due_an_interval_after_the_yearly(planner):
    machine = make_machine()
    sign_yearly(machine, planner)
    assert not open_of(machine).exists()
    plan_due_inspections(today=TODAY, at=NOON)
    assert list(open_of(machine).values_list("due_on", flat=True)) == [date(2027, 5, 2)]


def test_what_a_person_planned_for_a_later_day_of_their_choice_stays(planner):
    machine = make_machine()
    planned = due_half_yearly(machine, planner, 90)
    sign_yearly(machine, planner, at=NOON + timedelta(hours=1))
    planned.refresh_from_db()
    assert planned.stage == "planned"


def test_a_procedure_that_has_a_step_more_by_now_is_not_settled(planner):
    machine = make_machine()
    planned = due_half_yearly(machine, planner, 5)
    version = half_yearly().current_version(TODAY)
    more = {**version.content["step"][0], "code": "new", "test": "battery-reserve"}
    content = {**version.content, "step": [*version.content["step"], more]}
    type(version).objects.filter(pk=version.pk).update(content=content)
    _, notes = sign_yearly(machine, planner)
    planned.refresh_from_db()
    assert (notes, planned.stage) == ([], "planned")


def step(code, test="observation", **keys):
    return {"code": code, "title": code.title(), "test": test, **keys}


def test_a_step_is_contained_under_its_code_or_as_the_same_work():
    yearly = {"code": "y", "step": [step("a"), step("b", "oxygen-flush", gas="oxygen")]}
    assert lacking_steps(yearly, {"step": [step("a"), step("other", "oxygen-flush", gas="oxygen")]}) == []
    lacking = [step("a", "oxygen-flush"), step("c", "oxygen-flush", gas="air"), step("d")]
    assert lacking_steps(yearly, {"step": lacking}) == ["A", "C"]  # d is as vague an observation as a


@pytest.mark.parametrize(
    ("contains", "said"), [("y", "is the procedure itself"), ("z", "is not a procedure"), ("x", "not in it: Flush")]
)
def test_what_is_declared_and_not_so_is_refused(contains, said):
    content = {"code": "y", "contains": [contains], "step": [step("a")]}
    with pytest.raises(ProcedureError, match=said):
        refuse_not_contained(content, {"y": content, "x": {"step": [step("flush", "oxygen-flush")]}})


@pytest.mark.parametrize(
    ("due_in", "answer"),
    [(0, "elsewhere"), (21, "elsewhere"), (-21, "elsewhere"), (-22, "voided"), (60, "elsewhere")],
)  # the window is 21 days either side
def test_a_settled_due_date_counts_nowhere_and_as_missed_where_it_was_over_before(planner, due_in, answer):
    machine = make_machine()
    due_half_yearly(machine, planner, due_in)
    Inspection.objects.update(planned_by=None)  # as the nightly plan leaves it
    sign_yearly(machine, planner)
    figure = work_figures(planner, TODAY + 100 * DAY).on_time
    assert {str(word): count for word, count in figure.answers.items() if count} == {"on time": 1, answer: 1}


SLOW = settings(
    max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@SLOW
@given(st.lists(st.sampled_from(["plan", "yearly", "month"]), max_size=8))
@rolled_back
def test_a_contained_procedure_is_never_planned_twice(planner, steps):
    machine, day = make_machine(), 0
    for one in steps:
        at = NOON + day * DAY
        if one == "plan":
            plan_due_inspections(today=at.date(), at=at)
        elif one == "yearly":
            sign_yearly(machine, planner, at=at)
        else:
            day += 30
        found = list(open_of(machine).values_list("due_on", flat=True))
        last = ContainedInspection.objects.filter(done_in__machine=machine).order_by("-done_on").first()
        assert len(found) <= 1
        if found and last:
            assert found[0] >= last.done_on + 180 * DAY
