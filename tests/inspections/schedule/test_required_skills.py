"""Skills that planning rules ask for: who is booked, who signs, whom the plan of the year places."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Machine
from inspections.actions import (
    accept_year_plan,
    add_planning_rule,
    book_inspection,
    compute_year,
    confirm_competence,
    draft_signature,
    open_inspection,
    propose_year,
    withdraw_calendar_entry,
)
from inspections.errors import Refused, StageRefused
from inspections.models import Competence, PlanningRule
from inspections.planning.year_plan import Binding
from inspections.schedule.competence import reasons_against
from inspections.schedule.required_skills import RequiredSkills
from inspections.schedule.rhythms import traits_of
from inspections.schedule.year_problem import year_problem
from tests.factories import NOON, TODAY, make_person
from tests.inspections.calendar_scene import make_competent, make_department

DAY = TODAY + timedelta(days=8)
SKILL = "electrical safety"


@pytest.fixture
def department(db, tmp_path):
    return make_department(tmp_path, machines=2)


def ask(department, *skills, reach="all", target=None, days=0, **fields):
    fields = {"interval_months": 6, "window_days": 14} | fields
    rule, _ = add_planning_rule(
        procedure=department.procedure, reach=reach, target=target, from_date=TODAY + timedelta(days=days),
        reason="Opened covers need it.", reference="Policy 7", source="policy", skills=skills, by=department.planner,
        at=NOON, **fields,
    )  # fmt: skip
    return rule


def confirm(department, person, skill=SKILL, **fields):
    return confirm_competence(person, skill=skill, evidence="Course", by=department.planner, at=NOON, **fields)


def book(department, day=DAY):
    book_inspection(
        department.inspections[0], technician=department.people[0], booked_on=day, by=department.planner, at=NOON
    )


def test_booking_needs_each_skill_that_the_rule_asks_for_until_its_last_day(department):
    rule = ask(department, SKILL, "vapour-free use")
    with pytest.raises(StageRefused, match=rf"rule {rule.pk} asks for the skill “{SKILL}” \(Opened covers need it\)"):
        book(department)
    first = confirm(department, department.people[0], last_day=DAY - timedelta(days=1))
    with pytest.raises(StageRefused, match="“vapour-free use”.*is not confirmed"):
        book(department)
    confirm(department, department.people[0], "vapour-free use")
    with pytest.raises(StageRefused, match="ends on"):
        book(department)
    book(department, DAY - timedelta(days=1))
    confirm(department, department.people[0])
    withdraw_calendar_entry(first, by=department.planner, at=NOON)
    book(department)


def test_signing_needs_the_skill_and_a_competence_for_the_model_is_none(department):
    ask(department, SKILL)
    [ana, _], inspection = department.people, department.inspections[0]
    make_competent(department, ana)
    open_inspection(inspection, by=ana, at=NOON)
    assert any(SKILL in one for one in draft_signature(inspection, by=ana, at=NOON).reasons)
    confirm(department, ana)
    assert not any(SKILL in one for one in draft_signature(inspection, by=ana, at=NOON).reasons)


def test_the_most_specific_rule_says_which_skills_and_one_that_begins_later_counts_from_its_day(department):
    ask(department, SKILL)
    ask(department, reach="machine", target=department.machines[0], days=4)
    first, second = department.inspections
    ana = department.people[0]
    assert reasons_against([first], ana, TODAY + timedelta(days=3))
    assert not reasons_against([first], ana, TODAY + timedelta(days=4))
    assert reasons_against([second], ana, TODAY + timedelta(days=4))


def test_the_question_costs_one_query_where_no_rule_asks(department, django_assert_num_queries):
    inspection, ana = department.inspections[0], department.people[0]
    assert inspection.machine.area.site
    with django_assert_num_queries(1):
        assert reasons_against([inspection], ana, DAY) == []
    ask(department, SKILL)
    with django_assert_num_queries(3):  # whether, the rules, the competences
        assert len(reasons_against([inspection], ana, DAY)) == 1


def test_a_span_of_days_asks_for_what_any_of_its_days_asks_for(department):
    ask(department, SKILL)
    ask(department, "vapour-free use", days=10)
    machine = Machine.objects.with_place().get(pk=department.machines[0].pk)
    traits = traits_of([machine], (), TODAY)[machine.pk]
    last = TODAY + timedelta(days=30)
    required = RequiredSkills([department.procedure.pk], TODAY, last)

    def asked(first, to):
        return set(required.asked(department.procedure.pk, traits, TODAY + timedelta(first), TODAY + timedelta(to)))

    assert asked(0, 9) == {SKILL}
    assert asked(10, 30) == {"vapour-free use"}
    assert asked(5, 15) == {SKILL, "vapour-free use"}


def test_the_plan_of_the_year_places_only_who_has_the_skill_and_says_who_is_missing(department):
    ask(department, SKILL)
    _, plan, _ = compute_year(department.planner, today=TODAY)
    assert not plan.placements
    assert {one.binding for one in plan.unplaced} == {Binding.NOBODY_COMPETENT}
    assert f"the skill “{SKILL}”" in plan.unplaced[0].reason
    ben = department.people[1]
    confirm(department, ben)
    problem, plan, _ = compute_year(department.planner, today=TODAY)
    assert {one.technician for one in plan.placements} == {ben.pk}
    assert len(plan.placements) == 2
    proposed = propose_year(problem, plan, seconds=0.1, by=department.planner, at=NOON)
    withdraw_calendar_entry(Competence.objects.get(), by=department.planner, at=NOON)
    with pytest.raises(Refused, match="does not have the skill"):
        accept_year_plan(proposed, by=department.planner, at=NOON)


def test_the_plan_asks_for_the_model_and_the_skill_together(department):
    department.site.needs_competence = True
    department.site.save(update_fields=["needs_competence"])
    ask(department, SKILL)
    ana, ben = department.people
    make_competent(department, ana, last_day=DAY)
    make_competent(department, ben)
    confirm(department, ana)
    ends = {one.name: list(one.skills.values()) for one in year_problem(department.planner, TODAY).technicians}
    assert ends == {str(ana): [DAY], str(ben): []}


def test_what_is_no_skill_is_refused(department):
    with pytest.raises(Refused, match="without a comma"):
        ask(department, "one, two")
    with pytest.raises(Refused, match="asks for no skill"):
        ask(department, SKILL, is_planned=False, interval_months=None, window_days=None)
    with pytest.raises(Refused, match="No planning rule asks for the skill"):
        confirm(department, department.people[0], "juggling")
    assert not PlanningRule.objects.exists() and not Competence.objects.exists()


def test_the_page_adds_a_rule_with_skills_and_warns_where_it_drops_one(client, department):
    planner = make_person("planner")
    client.force_login(planner)
    ask(department, SKILL)
    fields = {
        "procedure": department.procedure.pk, "reach": "all", "planned": "planned", "every": 6, "unit": "months",
        "window_days": 14, "source": "policy", "reference": "Policy 8", "reason": "Revised",
        "from_date": timezone.localdate(),
        "skills": "  Vapour-free   use, vapour-free use",
    }  # fmt: skip
    url = reverse("inspections:planning_rule_add")
    page = client.post(url, fields)
    assert page.context["preview"].drops_skills == 2
    assert "asks for a skill that this one does not name" in page.content.decode()
    page = client.post(url, fields | {"skills": "Vapour-free use, ELECTRICAL SAFETY"})
    assert page.context["preview"].drops_skills == 0
    client.post(url, fields | {"skills": "Vapour-free use, ELECTRICAL SAFETY", "previewed": page.context["previewed"]})
    assert PlanningRule.objects.latest("pk").skill_names == ("Vapour-free use", SKILL)
    assert (
        "Asks for: Vapour-free use, electrical safety"
        in client.get(reverse("inspections:planning_rules")).content.decode()
    )
    assert "no name of a skill" in client.post(url, fields | {"skills": "x" * 61}).content.decode()


def test_a_skill_is_confirmed_on_the_page_of_the_technician(client, department):
    ask(department, SKILL)
    client.force_login(department.planner)
    url = reverse("inspections:technician_calendar", args=[department.people[0].pk])
    client.post(url, {"what": "competence", "c-skill": SKILL, "c-evidence": "Course of 2026"})
    assert Competence.objects.get().subject == f"the skill “{SKILL}”"
