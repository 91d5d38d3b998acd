"""The guided start: what is done is known from the records."""

import pytest
from django.urls import reverse

from fleet.models import StartPutAway
from inspections.actions import leave_limits_as_proposed, level_first_inspections, plan_due_inspections
from inspections.at_bench.limits_looked_at import not_looked_at
from inspections.models import Inspection, Procedure
from tests.factories import (
    NOON,
    TODAY,
    confirm_first_limit,
    load_all_procedures,
    make_area,
    make_machine,
    make_person,
    make_signed_inspection,
    make_waiting_row,
)

HOME = "/"
TITLES = [
    "People", "Sites and areas", "Machine models", "Procedures", "Limits looked at and approved", "The first register",
    "First due dates levelled", "The first inspection",
]  # fmt: skip


def leave(site, limits, *, by):
    return leave_limits_as_proposed(site, limits, reason="Committee 4 decides in May", by=by, at=NOON)


def steps_of(client, person):
    client.force_login(person)
    return {step.title: step for step in client.get(HOME).context["steps"]}


@pytest.fixture
def planner(db):
    return make_person("planner", "planner-in-chief")


def test_an_empty_installation_has_every_step_to_do(client, planner):
    steps = steps_of(client, planner)
    assert list(steps) == TITLES and not any(step.is_done for step in steps.values())
    assert [step.title for step in steps.values() if step.is_next] == ["People"]
    assert "The first day" in client.get(HOME).content.decode()


@pytest.mark.parametrize("group", ["technician", "manager", "auditor"])
def test_other_groups_do_not_see_the_steps(client, db, group):
    assert steps_of(client, make_person(group)) == {}


def test_a_step_that_the_person_may_not_do_says_who_does_it(client, db):
    step = steps_of(client, make_person("planner"))["People"]
    assert step.url == "" and step.note == "A planner-in-chief adds people."


def test_each_step_is_known_from_the_records(client, planner):
    technician = make_person("technician")
    assert steps_of(client, planner)["People"].is_done
    area = make_area()
    assert steps_of(client, planner)["Sites and areas"].words == "1 site with 1 area"
    client.post(reverse("first_day_procedures"))
    assert steps_of(client, planner)["Procedures"].is_done and Procedure.objects.exists()
    confirm_first_limit(area.site, by=planner, at=NOON)
    step = steps_of(client, planner)["Limits looked at and approved"]
    number = len(not_looked_at(area.site))
    assert not step.is_done and step.words.startswith(f"1 of {number + 1} published limits in use are looked at, 1 of")
    leave(area.site, not_looked_at(area.site)[1:], by=planner)
    assert not steps_of(client, planner)["Limits looked at and approved"].is_done
    leave(area.site, not_looked_at(area.site), by=planner)
    assert steps_of(client, planner)["Limits looked at and approved"].is_done
    make_machine(area=area)
    steps = steps_of(client, planner)
    assert steps["The first register"].is_done and steps["Machine models"].is_done
    plan_due_inspections(today=TODAY, by=planner, at=NOON)
    assert not steps_of(client, planner)["First due dates levelled"].is_done
    level_first_inspections(today=TODAY, by=planner, at=NOON)
    assert not steps_of(client, planner)["The first inspection"].is_done
    make_signed_inspection(make_machine(area=area), by=technician)
    assert steps_of(client, planner) == {}


def test_rows_that_wait_keep_the_register_step_open(client, planner):
    make_machine()
    make_waiting_row(planner)
    step = steps_of(client, planner)["The first register"]
    assert not step.is_done and step.url == reverse("fleet:waiting_files")


def test_loading_the_procedures_is_safe_to_repeat(client, planner):
    client.force_login(planner)
    client.post(reverse("first_day_procedures"))
    number = Procedure.objects.count()
    page = client.post(reverse("first_day_procedures"), follow=True).content.decode()
    assert "0 procedures are loaded" in page and Procedure.objects.count() == number > 0


def test_the_steps_are_put_away_and_shown_again(client, planner):
    client.force_login(planner)
    for _ in range(2):
        client.post(reverse("first_day_put_away"))
    assert StartPutAway.objects.count() == 1 and steps_of(client, planner) == {}
    assert "Show these steps on Home again" in client.get(reverse("first_day")).content.decode()
    client.post(reverse("first_day_show"))
    assert len(steps_of(client, planner)) == 8


def test_putting_away_needs_a_press(client, planner):
    client.force_login(planner)
    assert client.get(reverse("first_day_put_away")).status_code == 405
    assert client.get(reverse("first_day_procedures")).status_code == 405
    client.force_login(make_person("technician"))
    assert client.post(reverse("first_day_procedures")).status_code == 403


def test_the_steps_ask_a_fixed_number_of_queries(client, planner, django_assert_max_num_queries):
    load_all_procedures()
    for _ in range(8):
        make_machine(area=make_area())
    client.force_login(planner)
    client.get(HOME)
    with django_assert_max_num_queries(60):
        client.get(HOME)


def test_what_falls_due_is_planned_with_one_press_and_then_levelled(client, planner):
    load_all_procedures()
    make_machine()
    step = steps_of(client, planner)["First due dates levelled"]
    assert step.is_post and step.url == reverse("first_day_plan")
    response = client.post(step.url)
    assert response.url == reverse("inspections:levelling") and Inspection.objects.exists()
    number = Inspection.objects.count()
    client.post(step.url)
    assert Inspection.objects.count() == number
    assert steps_of(client, planner)["First due dates levelled"].label == "Level them"


def test_only_a_planner_plans(client, db):
    client.force_login(make_person("technician"))
    assert client.post(reverse("first_day_plan")).status_code == 403
    client.force_login(make_person("planner"))
    assert client.get(reverse("first_day_plan")).status_code == 405
