"""An interval by evidence: frozen data, a second person, the law's bound, and how it withdraws itself."""

from dataclasses import replace
from datetime import timedelta

import pytest
from dateutil.relativedelta import relativedelta
from pytest import approx

from fleet.canonical import canonical_json, digest_of
from inspections.actions import (
    add_planning_rule,
    discard_dossier,
    end_planning_rule,
    plan_due_inspections,
    report_fault,
    watch_dossier,
)
from inspections.errors import Refused
from inspections.models import Finding, Inspection, IntervalDossier, PlanningRule
from inspections.planning.rates import share_of_time_failed
from inspections.proposals import confirm_proposal, decide
from tests.factories import NOON, TODAY, make_model, make_person
from tests.inspections.dossier_scene import (
    SAID,
    approve,
    asked,
    in_force,
    make_dossier,
    make_fleet,
    proposal_of,
    yearly,
)
from tests.services.rows_of_module import rows_of_module

TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture
def planner(db):
    return make_person("planner")


@pytest.fixture(scope="module")
def made(request):
    with rows_of_module(request, make_fleet) as copy:
        yield copy


@pytest.fixture
def model(db, made):
    return made()


def add_rule(planner, source, *, months, reach="all", target=None):
    return add_planning_rule(
        procedure=yearly(), reach=reach, target=target, from_date=TODAY, interval_months=months, window_days=14,
        source=source, reason="Edition 4", reference="Manual, page 9", by=planner, at=NOON,
    )[0]  # fmt: skip


def fail(model, number):
    """Give each of some machines a finding of its last inspection that says: silent failure, found by inspection."""
    for inspection in Inspection.objects.signed().filter(machine__model=model).order_by("-signed_at")[:number]:
        result = inspection.steps.first().results.first()
        finding = report_fault(inspection.machine, title="Silent", severity="essential", by=None, at=NOON)
        Finding.objects.filter(pk=finding.pk).update(
            origin=Finding.Origin.RESULT, result=result, code="silent-failure", found_how="inspection"
        )


def due_dates():
    return set(Inspection.objects.planned().filter(procedure__code="yearly").values_list("due_on", flat=True))


def test_a_dossier_freezes_what_the_records_say(planner, model):
    """22 machines, 5 clean years each: the bound is -ln 0.05/110 a year, by hand."""
    dossier = make_dossier(planner, model)
    found = dossier.evidence
    assert found["observed"]["failed"] == 0 and found["observed"]["machine_years"] == approx(110, abs=0.1)
    assert found["bound"]["rate_upper"] == approx(2.995732 / 110, rel=2e-3)
    years = 15 / 12 + 14 / 365.25
    assert found["bound"]["share_upper"] == approx(share_of_time_failed(found["bound"]["rate_upper"], years), abs=1e-5)
    assert dossier.digest == digest_of(canonical_json(found)) and dossier.is_draft
    assert found["hours"]["machines"] == 22 and found["reverse"] == 1


def test_hours_freed_follow_from_machines_minutes_and_intervals(planner, model):
    """22 machines at 90 minutes: 33 h a year every 12 months, 26.4 h every 15; by hand."""
    Inspection.objects.signed().update(minutes=90)
    hours = make_dossier(planner, model).evidence["hours"]
    assert [hours[name] for name in ("now", "then", "freed", "longer_on")] == approx([33, 26.4, 6.6, 22])


def test_few_clean_years_do_not_bear_a_longer_interval(planner):
    few = make_fleet(make_model(manufacturer="Alone"), machines=5)
    with pytest.raises(Refused, match="The records do not bear this interval"):
        make_dossier(planner, few)
    assert not IntervalDossier.objects.exists()


def test_a_shorter_interval_needs_no_bound(planner):
    few = make_fleet(make_model(manufacturer="Alone"), machines=5)
    dossier = make_dossier(planner, few, interval_months=6)
    assert not dossier.evidence["bound"]["keeps"] and dossier.evidence["hours"]["freed"] <= 0
    approve(dossier)
    assert watch_dossier(dossier, today=TOMORROW, at=NOON) == ""  # falling back would only be worse


def test_few_data_are_pooled_with_the_models_of_the_manufacturer(planner):
    few, many = make_model(manufacturer="Works"), make_model(manufacturer="Works")
    make_fleet(few, machines=3)
    make_fleet(many)
    pool = make_dossier(planner, few).evidence["pool"]
    assert pool["pooled"] and "the other models of Works" in pool["words"]


@pytest.mark.parametrize("source", ["law", "manufacturer"])
def test_evidence_never_goes_beyond_law_or_manufacturer(planner, model, source):
    rule = add_rule(planner, source, months=12)
    with pytest.raises(Refused, match=f"cannot go beyond the law or the manufacturer's instructions: rule {rule.pk}"):
        make_dossier(planner, model)
    assert make_dossier(planner, model, interval_months=12).is_draft


def test_a_rule_of_the_policy_does_not_bind(planner, model):
    add_rule(planner, "policy", months=12)
    assert make_dossier(planner, model).is_draft


def test_a_rule_of_the_manufacturer_for_the_same_machines_is_not_ended_by_evidence(planner, model):
    add_rule(planner, "manufacturer", months=24, reach="model", target=model)
    with pytest.raises(Refused, match="cannot go beyond"):
        make_dossier(planner, model)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"interval_months": 0}, "Accepted: 1 to"),
        ({"as_of": TOMORROW}, "not after today"),
        ({"data_from": TODAY}, "before the last one"),
        ({"data_from": TODAY - timedelta(days=2), "as_of": TODAY - timedelta(days=1)}, "no complete inspection"),
    ],
)
def test_what_cannot_be_is_refused_with_what_is_accepted(planner, model, change, words):
    with pytest.raises(Refused, match=words):
        make_dossier(planner, model, **change)


@pytest.mark.parametrize(
    ("change", "words"), [({"most_share": 0.03}, "allows 2 %"), ({"reason": "-"}, "needs a reason")]
)
def test_a_dossier_may_allow_less_than_the_policy_and_not_more(planner, model, change, words):
    with pytest.raises(Refused, match=words):
        make_dossier(planner, model, said=SAID | change)


def test_another_person_approves_and_it_becomes_a_rule_by_evidence(planner, model):
    plan_due_inspections(today=TODAY, at=NOON)
    before = due_dates()
    dossier, manager = make_dossier(planner, model), make_person("manager")
    proposal = decide(proposal_of(dossier), reason="Freed hours go to the older ones", by=planner, at=NOON)
    with pytest.raises(Refused, match="yourself"):
        confirm_proposal(proposal, by=planner, at=NOON)
    confirm_proposal(proposal, by=manager, at=NOON)
    dossier.refresh_from_db()
    assert (dossier.is_in_force, dossier.approved_by) == (True, manager)
    rule = dossier.rule
    assert (rule.source, rule.interval_months, rule.from_date) == ("evidence", 15, TODAY)
    assert dossier.digest[:16] in rule.reference
    assert due_dates() == {day + relativedelta(months=3) for day in before}


def test_whoever_drafted_it_does_not_approve_what_another_proposed(planner, model):
    dossier = make_dossier(planner, model)
    proposal = decide(proposal_of(dossier), reason="As drafted", by=make_person("manager"), at=NOON)
    with pytest.raises(Refused, match="You drafted"):
        confirm_proposal(proposal, by=planner, at=NOON)


def test_failures_since_the_draft_stop_its_approval(planner, model):
    dossier = make_dossier(planner, model, said=SAID)
    fail(model, 4)
    with pytest.raises(Refused, match="The upper bound rose to"):
        approve(dossier)
    assert IntervalDossier.objects.get().is_draft and not PlanningRule.objects.exists()


def test_a_draft_is_discarded_once_with_a_reason(planner, model):
    dossier = make_dossier(planner, model)
    with pytest.raises(Refused, match="State why"):
        discard_dossier(dossier, reason=" ", by=planner, at=NOON)
    discard_dossier(dossier, reason="Too few data", by=planner, at=NOON)
    dossier.refresh_from_db()
    for act in (lambda: discard_dossier(dossier, reason="Again, no", by=planner, at=NOON), lambda: approve(dossier)):
        with pytest.raises(Refused, match="is discarded"):
            act()


def test_a_quiet_night_stores_the_bound_and_changes_nothing(planner):
    dossier = in_force(planner)
    assert watch_dossier(dossier, today=TOMORROW, at=NOON) == ""
    dossier.refresh_from_db()
    assert dossier.is_in_force and dossier.watched_on == TOMORROW
    assert 0 < dossier.watched_share <= dossier.most_share


def test_failures_withdraw_it_and_planned_inspections_go_back(planner, model):
    plan_due_inspections(today=TODAY, at=NOON)
    before = due_dates()
    dossier = make_dossier(planner, model)
    approve(dossier)
    assert due_dates() != before
    fail(model, 4)
    reason = watch_dossier(dossier, today=TODAY, at=NOON)
    dossier.refresh_from_db()
    assert "The upper bound rose to" in reason and dossier.state == "withdrawn"
    assert dossier.ended_by is None and dossier.rule.until_date == TODAY
    assert due_dates() == before


def test_a_failure_without_a_code_counts_as_hidden(planner, model):
    dossier = make_dossier(planner, model)
    approve(dossier)
    fail(model, 4)
    Finding.objects.update(code="", found_how="")
    assert "The upper bound rose to" in watch_dossier(dossier, today=TODAY, at=NOON)


def test_what_it_had_replaced_comes_back(planner, model):
    add_rule(planner, "policy", months=9, reach="model", target=model)
    dossier = make_dossier(planner, model)
    approve(dossier)
    fail(model, 4)
    watch_dossier(dossier, today=TODAY, at=NOON)
    [rule] = PlanningRule.objects.in_force(TODAY)
    assert (rule.source, rule.interval_months) == ("policy", 9) and "withdrew itself" in rule.reason


def test_a_new_rule_by_law_withdraws_it(planner, model):
    dossier = make_dossier(planner, model)
    approve(dossier)
    rule = add_rule(planner, "law", months=12)
    assert f"rule {rule.pk}, every 12 months" in watch_dossier(dossier, today=TODAY, at=NOON)


def test_a_rule_that_somebody_ended_ends_its_dossier(planner):
    dossier = in_force(planner)
    end_planning_rule(dossier.rule, until_date=TODAY, reason="Committee 5", by=planner, at=NOON)
    assert watch_dossier(dossier, today=TODAY, at=NOON) == "Its planning rule was ended"
    dossier.refresh_from_db()
    assert dossier.state == "ended" and watch_dossier(dossier, today=TODAY, at=NOON) == ""


def test_a_newer_dossier_replaces_the_one_in_force(planner, model):
    first = make_dossier(planner, model)
    approve(first)
    approve(make_dossier(planner, model, interval_months=14))
    first.refresh_from_db()
    assert first.state == "ended" and "Replaced by dossier" in first.ended_reason
    assert [rule.interval_months for rule in PlanningRule.objects.in_force(TODAY)] == [14]


def test_the_rows_of_a_dossier_name_what_was_asked(model):
    assert replace(asked(model), interval_months=12).years_between == approx(1 + 14 / 365.25)
