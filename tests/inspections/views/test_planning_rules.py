"""The pages of planning rules: list, preview, adding, ending, and what the pages of machine and procedure say."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspections.actions import add_planning_rule, plan_due_inspections
from inspections.models import ComponentLife, Inspection, PlanningRule, Procedure
from tests.factories import (
    NOON,
    load_all_procedures,
    make_component,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
)

LIFE = {
    "kind": "battery", "life": "36", "unit": "months", "source": "manufacturer", "reference": "Manual, page 9",
    "reason": "Capacity",
}  # fmt: skip
LIST, ADD = reverse("inspections:planning_rules"), reverse("inspections:planning_rule_add")


@pytest.fixture
def planner(db):
    load_all_procedures()
    return make_person("planner")


@pytest.fixture
def client(client, planner):
    client.force_login(planner)
    return client


def life_from_today():
    """The day is that of the moment: the suite may run past midnight."""
    return LIFE | {"from_date": timezone.localdate().isoformat()}


def yearly():
    return Procedure.objects.get(code="yearly")


def rule(planner, reach="all", target=None, *, code="yearly", **fields):
    fields = fields or {"interval_months": 6, "window_days": 7}
    return add_planning_rule(
        procedure=Procedure.objects.get(code=code), reach=reach, target=target, from_date=timezone.localdate(),
        by=planner, at=timezone.now(),
        **{"reason": "Committee 4", "reference": "Policy 7, page 2", "source": "policy", **fields},
    )[0]  # fmt: skip


def sent(**fields):
    return {
        "procedure": yearly().pk, "reach": "all", "planned": "planned", "every": "9", "unit": "months",
        "window_days": "14", "source": "manufacturer", "reference": "Manual 3, page 41", "reason": "Wear",
        "from_date": timezone.localdate().isoformat(), **fields,
    }  # fmt: skip


def due_in_half_a_year(planner, *machines):
    """Last done half a year ago, and planned for the yearly date by the night."""
    now = timezone.now()
    for machine in machines:
        make_signed_inspection(machine, yearly(), by=planner, at=now - timedelta(days=183))
    plan_due_inspections(today=timezone.localdate(), at=now)


def test_a_rule_is_added_only_after_its_preview_was_shown(client, planner):
    model = make_model()
    machines = [make_machine(model=model) for _ in range(3)]
    rule(planner, "machine", machines[0], interval_months=12, window_days=28)
    due_in_half_a_year(planner, *machines)
    data = sent(reach="model", machine_model=model.pk)
    page = client.post(ADD, data)
    assert "This rule would cover 2 machines" in page.text
    assert "1 more is reached, but a more specific rule wins there" in page.text
    assert "2 planned inspections get an earlier due date, 0 a later one" in page.text
    assert PlanningRule.objects.count() == 1
    changed = client.post(ADD, {**data, "every": "8", "previewed": page.context["previewed"]})
    assert PlanningRule.objects.count() == 1 and changed.context["previewed"] != page.context["previewed"]
    done = client.post(ADD, {**data, "previewed": page.context["previewed"]}, follow=True)
    assert "2 moved to an earlier date" in done.text
    added = PlanningRule.objects.get(reach="model")
    assert (added.interval_months, added.by, added.machine_model) == (9, planner, model)


def test_the_preview_says_where_the_law_asks_for_more(client, planner):
    machine = make_machine()
    rule(planner, interval_months=6, window_days=7, source="law", reference="Ordinance 5")
    page = client.post(ADD, sent(reach="machine", machine=machine.asset_number, every="12"))
    assert "On 1 of them a rule by law or by the manufacturer's instructions asks for more." in page.text


def test_the_preview_takes_as_many_queries_for_many_machines_as_for_one(client, planner):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            client.post(ADD, sent(reach="feature", feature="o2-analyser"))
        return len(asked)

    due_in_half_a_year(planner, make_machine(features={"o2-analyser": "fitted"}))
    queries()
    few = queries()
    for _ in range(5):
        due_in_half_a_year(planner, make_machine(features={"o2-analyser": "fitted"}))
    assert queries() == few


@pytest.mark.parametrize(
    ("fields", "field", "said"),
    [
        ({"reach": "model"}, "machine_model", "Choose one"),
        ({"machine": "nowhere"}, "machine", "There is no machine"),
        ({"feature": "o2-analyser"}, "feature", "Leave this empty"),
        ({"every": ""}, "every", "Enter a whole number"),
        ({"planned": "not"}, "every", "Leave this empty"),
        ({"every": "366", "unit": "days"}, "every", "365"),
        ({"every": "121"}, "every", "at most 120"),
        ({"from_date": "2020-01-01"}, "from_date", "is in the past"),
    ],
)
def test_a_form_names_the_field_that_does_not_fit(client, fields, field, said):
    page = client.post(ADD, sent(**fields))
    assert any(said in error for error in page.context["form"].errors[field])
    assert "preview" not in page.context


def test_the_list_is_paged_and_narrowed(client, planner):
    first = rule(planner, code="weekly", interval_days=7, window_days=2)
    for number in range(26):
        rule(planner, "machine", make_machine(asset_number=f"R-{number:02}"))
    with CaptureQueriesContext(connection) as asked:
        page = client.get(LIST)
    assert len(page.context["page"].object_list) == 25 and len(asked) < 15
    narrowed = client.get(LIST, {"procedure": first.procedure_id})
    assert [one.pk for one in narrowed.context["page"]] == [first.pk] and "Every 7 days" in narrowed.text
    assert client.get(LIST, {"reach": "all"}).context["page"].paginator.count == 1
    assert client.get(LIST, {"reach": "moon"}).status_code == 400


def test_ending_a_rule_shows_first_what_moves_and_keeps_the_reason(client, planner):
    machine = make_machine()
    due_in_half_a_year(planner, machine)
    ended = rule(planner, interval_months=9, window_days=7)
    url = reverse("inspections:planning_rule_end", args=[ended.pk])
    assert "0 planned inspections get an earlier due date, 1 a later one" in client.get(url).text
    today = timezone.localdate().isoformat()
    assert client.post(url, {"until_date": today, "reason": "n/a"}).context["form"].errors
    client.post(url, {"until_date": today, "reason": "The manual was revised"})
    ended.refresh_from_db()
    assert (ended.ended_reason, ended.ended_by) == ("The manual was revised", planner)
    assert ended.reason in client.get(LIST, {"view": "all"}).text


def test_the_page_of_a_machine_says_which_rule_won_why_and_which_lost(client, planner):
    machine = make_machine()
    lost = rule(planner, interval_months=6, window_days=7, source="law", reference="Ordinance 5")
    won = rule(planner, "area", machine.area, interval_months=9, window_days=7, minutes=75)
    url = reverse("inspections:machine_planning", args=[machine.pk])
    page = client.get(url)
    line = next(one for one in page.context["page"] if one.procedure.code == "yearly")
    assert (line.rule, line.lost, line.goes_beyond, line.minutes.value) == (won, [lost], [lost], 75)
    assert f"Rule {won.pk}</a> wins: area {machine.area}" in page.text
    assert f"Rule {lost.pk} (law or regulation) asks for more: every 6 months" in page.text
    assert "From the procedure itself: no rule reaches this machine" in page.text
    assert "No component of this machine has a life" in page.text


def test_the_page_of_a_machine_takes_a_fixed_number_of_queries(client, planner):
    machine = make_machine()
    url = reverse("inspections:machine_planning", args=[machine.pk])
    ComponentLife.objects.create(
        kind="battery", life=2, unit="months", source="policy", reference="P", reason="R",
        from_date=timezone.localdate(), at=NOON,
    )  # fmt: skip

    def queries():
        with CaptureQueriesContext(connection) as asked:
            client.get(url)
        return len(asked)

    rule(planner)
    make_component(machine, kind="battery")
    queries()
    few = queries()
    for reach, target in (("area", machine.area), ("site", machine.site), ("model", machine.model)):
        rule(planner, reach, target)
        rule(planner, reach, target, code="weekly", interval_days=7, window_days=2)
        make_component(machine, kind="battery")
    assert queries() == few


def test_the_page_of_a_procedure_counts_the_machines_that_follow_each_rule(client, planner):
    machines = [make_machine() for _ in range(3)]
    rule(planner, "machine", machines[0])
    page = client.get(yearly().get_absolute_url())
    assert [number for _, number in page.context["rules"]] == [1] and page.context["without_rule"] == 2
    assert "1 in force" in client.get(reverse("inspections:procedures")).text


def test_somebody_limited_to_a_site_makes_rules_for_that_site_only(client, planner):
    here, there = make_machine(), make_machine()
    narrowed = make_person("planner", sites=[here.site])
    own, other = rule(planner, "area", here.area), rule(planner, "area", there.area)
    wide = rule(planner)
    client.force_login(narrowed)
    assert {one.pk for one in client.get(LIST).context["page"]} == {own.pk, wide.pk}
    assert client.get(LIST).context["changeable"] == {own.pk}
    for one, status in ((own, 200), (wide, 404), (other, 404)):
        assert client.get(reverse("inspections:planning_rule_end", args=[one.pk])).status_code == status
    for fields in ({}, {"reach": "area", "area": there.area_id}, {"reach": "machine", "machine": there.asset_number}):
        assert client.post(ADD, sent(**fields)).context["form"].errors
    assert "preview" in client.post(ADD, sent(reach="site", site=here.area.site_id)).context
    refused = client.post(reverse("inspections:component_life_add"), life_from_today())
    assert "counts at every site, and you are limited to some" in refused.text and not ComponentLife.objects.exists()


def test_a_technician_reads_rules_and_changes_none(client, planner):
    made = rule(planner)
    client.force_login(make_person("technician"))
    assert client.get(LIST).status_code == 200
    assert client.get(ADD).status_code == 403
    assert client.get(reverse("inspections:planning_rule_end", args=[made.pk])).status_code == 403


def test_a_planner_sets_and_ends_the_life_of_a_component(client):
    done = client.post(reverse("inspections:component_life_add"), life_from_today(), follow=True)
    life = ComponentLife.objects.get()
    assert "36 months" in done.text and life.unit == "months"
    url = reverse("inspections:component_life_end", args=[life.pk])
    client.post(url, {"until_date": timezone.localdate().isoformat(), "reason": "Other cells"})
    life.refresh_from_db()
    assert life.ended_reason == "Other cells"
    assert not Inspection.objects.exists()
