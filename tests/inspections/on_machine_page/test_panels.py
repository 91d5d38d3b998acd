"""What inspections add to the machine page."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.actions import report_fault, void_inspection
from inspections.on_machine_page.latest_results import drawn_trends, machine_results
from inspections.on_machine_page.panels import machine_events
from tests.factories import (
    NOON,
    bench_result,
    load_all_procedures,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
)

GAS = {"subject": "nitrous-oxide"}


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def machine(technician):
    return make_machine()


def sign(machine, by, *values, days=0, **step):
    results = [bench_result(value, decision="pass" if value >= 25 else "fail") for value in values]
    steps = [{**GAS, "results": results, **step}]
    return make_signed_inspection(machine, by=by, at=NOON + timedelta(days=days), steps=steps)


def test_the_latest_value_of_each_result_comes_with_the_earlier_ones(machine, technician):
    for days, value in enumerate((28, 27, 26)):
        sign(machine, technician, value, days=days)
    sign(machine, technician, 30, days=9, subject="air")
    found = {history.latest.step.subject: history for history in machine_results(machine)}
    assert found["nitrous-oxide"].latest.shown.value == "26.00"
    assert [earlier.shown.value for earlier in found["nitrous-oxide"].earlier] == ["27.00", "28.00"]
    assert found["air"].earlier == ()


def test_observations_of_different_items_are_different_results(machine, technician):
    for item in ("The hose is whole.", "The alarm sounds."):
        sign(machine, technician, 27, test_code="observation", content={"item": item})
    assert len(machine_results(machine)) == 2


def test_a_fail_comes_first_and_only_five_are_remembered(machine, technician):
    for days in range(7):
        sign(machine, technician, 27, days=days, subject="air")
    sign(machine, technician, 21)
    first, second = machine_results(machine)
    assert (first.latest.decision, len(second.earlier)) == ("fail", 4)


def test_a_result_with_three_figures_is_drawn(machine, technician):
    for days in range(3):
        sign(machine, technician, 27, days=days)
    [drawn] = drawn_trends(machine_results(machine))
    assert drawn.trend.startswith("<svg") and "at least 25 psi" in drawn.trend


def test_what_is_on_the_bench_is_no_result_yet(machine):
    make_inspection(machine)
    assert machine_results(machine) == []


def test_the_history_names_signatures_voids_and_findings(machine, technician, rf):
    sign(machine, technician, 27)
    void_inspection(make_inspection(machine), reason="Machine away", by=technician, at=NOON)
    report_fault(machine, title="Flush sticks", severity="other", by=technician, at=NOON)
    told = {event.title: event for event in machine_events(rf.get("/"), machine, 10)}
    assert told["Yearly inspection: void"].detail == "Machine away"
    assert {"Yearly inspection: signed", "Flush sticks"} <= told.keys()


@pytest.mark.parametrize("group, may_plan", [("planner", True), ("technician", False), ("auditor", False)])
def test_the_machine_page_offers_what_the_person_may_do(client, machine, group, may_plan):
    make_inspection(machine)
    client.force_login(make_person(group))
    page = client.get(machine.get_absolute_url()).content.decode()
    assert (reverse("inspections:plan", args=[machine.pk]) in page) == may_plan
    assert "Yearly inspection" in page


def test_the_machine_page_asks_as_many_queries_after_years_of_work(client, machine, technician):
    client.force_login(make_person("planner"))
    work_on(machine, technician, days=0)
    few = queries_of(client, machine)
    for days in range(1, 12):
        work_on(machine, technician, days=days)
    assert queries_of(client, machine) == few


def work_on(machine, technician, *, days):
    sign(machine, technician, 27, days=days)
    report_fault(machine, title=f"Fault {days}", severity="other", by=technician, at=NOON)
    make_inspection(machine)


def queries_of(client, machine):
    client.get(machine.get_absolute_url())
    with CaptureQueriesContext(connection) as queries:
        client.get(machine.get_absolute_url())
    return len(queries)


@pytest.mark.parametrize(
    ("results", "title", "mark"),
    [([], "Yearly inspection: signed, incomplete", "Incomplete"),
     ([bench_result()], "Yearly inspection: signed", "Signed")],
)  # fmt: skip
def test_the_history_says_that_an_inspection_was_incomplete(machine, technician, results, title, mark):
    make_signed_inspection(machine, by=technician, steps=[{"is_essential": True, "results": results}])
    [event] = machine_events(None, machine, 5)
    assert (event.title, event.mark) == (title, mark)
