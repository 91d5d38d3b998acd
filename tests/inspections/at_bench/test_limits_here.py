"""Which limits judge a machine at its site, and whether somebody confirmed them there."""

from dataclasses import asdict, replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.models import Site
from inspections.actions import confirm_limit, set_limit_override, withdraw_confirmation
from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.limits_here import LimitsHere
from inspections.at_bench.limits_of_site import limits_of_site
from inspections.bench import TESTS, get_test
from inspections.bench.examples import EXAMPLES
from inspections.bench.rules import PUBLISHED_SETS, RULES, belongs_to
from inspections.bench.serialise import context_from_dict, sheet_from_dict
from inspections.bench.strictest import evaluate_by_all
from inspections.errors import Refused, SecondPersonNeeded
from inspections.models import InspectionStep
from inspections.records.signed_record import ShownRecord
from tests.factories import NOON, TODAY, make_area, make_machine, make_person, make_site

SETS = ("", *PUBLISHED_SETS, "own")


@pytest.fixture
def here(db):
    return LimitsHere(make_machine(area=make_area(make_site())), TODAY)


def step_of(code, named=None):
    """A step of a test as a procedure version has it, with a rule named for each result that has it."""
    limits = [asdict(limit) for limit in get_test(code).default_limits]
    rules = {limit["key"]: named for limit in limits if limit["rule"] == named}
    return InspectionStep(test_code=code, title=code, content={"limits": limits, "rules": rules})


def evaluated(here, code, named=None):
    test, example, step = get_test(code), EXAMPLES[code], step_of(code, named)
    context = replace(context_from_dict({}, instruments=example.get("instruments")), built_year=here.machine.built_year)
    judges = here.judges(step)
    context = replace(context, limits={key: limits[0] for key, limits in judges.items()})
    return here.within_set(evaluate_by_all(test, sheet_from_dict(example), context, judges), step)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)
@given(
    st.sampled_from(list(TESTS)), st.sampled_from(SETS), st.none() | st.integers(1960, 2030),
    st.sampled_from([*RULES, None]),
)  # fmt: skip
def test_no_result_refers_to_a_rule_outside_the_set_of_the_site(here, code, rule_set, year, named):
    here.rule_set, here.machine.built_year = rule_set, year
    found = evaluated(here, code, named)
    outside = [one.title for one in get_test(code).default_limits if rule_set and not belongs_to(one, rule_set)]
    for result in found.results:
        assert result.limit is None or belongs_to(result.limit, rule_set)
        assert result.limit or result.decision is None or result.decision.value not in ("pass", "conditional pass")
        assert not any(title in result.convention for title in outside)
    assert not any(title in remark for title in outside for remark in found.remarks)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)
@given(st.sampled_from(list(TESTS)), st.sampled_from(SETS))
def test_every_judged_figure_says_whether_its_limit_was_confirmed(here, code, rule_set):
    here.rule_set = rule_set
    for result in evaluated(here, code).results:
        if result.limit and result.unit != "yes/no":
            assert result.limit.is_confirmed is False


def test_a_site_without_a_set_says_so(here):
    words = "has not chosen its set of rules"
    assert any(words in remark for remark in evaluated(here, "pipeline-supply").remarks)
    here.rule_set = "us"
    assert not any(words in remark for remark in evaluated(here, "pipeline-supply").remarks)


def test_a_rule_that_the_procedure_names_from_outside_is_passed_over_aloud(here):
    here.rule_set = "european"
    found = evaluated(here, "pipeline-supply", "fda93")
    assert found.result("pressure").limit.rule in ("aagbi12", "iso7396")
    assert any("The procedure names a rule for pressure" in remark for remark in found.remarks)


def confirm_all(site, by, at=NOON):
    return [
        confirm_limit(
            site, one.test.code, one.limit, edition="6th ed., p. 231", reason="Committee of May", by=by, at=at
        )
        for one in limits_of_site(site)
    ]


def words_of(scene):
    scene.complete()
    return {result.key: result.decision_words for step in scene.sign().steps.all() for result in step.results.all()}


def test_a_pass_says_that_nobody_confirmed_the_limit(scene):
    words = words_of(scene)
    assert words["trip_pressure"] == "pass, limit not confirmed"
    assert words["seen"] == "pass"  # a yes or no has no figure to confirm


def test_a_confirmed_limit_is_named_in_the_record_and_the_decision_is_plain(scene):
    site = scene.machine.site
    confirm_all(site, scene.technician)
    assert words_of(scene)["trip_pressure"] == "pass"
    step = ShownRecord(scene.inspection.record).measured[0]
    assert step.results[0].confirmation == f"Limit confirmed: 6th ed., p. 231, {scene.technician} on 2026-11-02"


def test_a_record_keeps_that_its_limit_was_not_confirmed(scene):
    words_of(scene)
    content = scene.inspection.record.content
    confirm_all(scene.machine.site, scene.technician)
    scene.inspection.refresh_from_db()
    assert scene.inspection.record.content == content
    assert scene.inspection.result_words == "pass, limit not confirmed"


def test_another_figure_is_not_confirmed_by_the_old_confirmation(here):
    confirm_all(here.site, make_person("planner"))
    again, step = LimitsHere(here.machine, TODAY), step_of("pipeline-supply")
    assert all(one.is_confirmed for limits in again.judges(step).values() for one in limits)
    for limit in step.content["limits"]:
        limit["upper_si"] = (limit["upper_si"] or 0) + 1000 if limit["upper_si"] else None
        limit["lower_si"] = limit["lower_si"] and limit["lower_si"] - 1000
    assert not any(one.is_confirmed for limits in again.judges(step).values() for one in limits)


def test_a_withdrawn_confirmation_counts_no_longer(scene):
    for one in confirm_all(scene.machine.site, scene.technician):
        withdraw_confirmation(one, reason="The copy was outdated", by=scene.other, at=NOON)
    assert words_of(scene)["trip_pressure"] == "pass, limit not confirmed"


def test_a_limit_is_confirmed_once_and_with_an_edition(scene):
    site = scene.machine.site
    confirm_all(site, scene.technician)
    with pytest.raises(Refused, match="already confirmed"):
        confirm_all(site, scene.other)
    one = limits_of_site(site)[0]
    with pytest.raises(Refused, match="edition"):
        confirm_limit(site, one.test.code, one.limit, edition="-", reason="Committee", by=scene.other, at=NOON)


def test_where_limits_ask_for_two_one_person_does_not_confirm(scene):
    Site.objects.filter(pk=scene.machine.site.pk).update(two_for_limit=True)
    site = Site.objects.get(pk=scene.machine.site.pk)
    with pytest.raises(SecondPersonNeeded):
        confirm_all(site, scene.technician)


@pytest.mark.parametrize(("edition", "words"), [("Rev. 4", "pass"), ("", "pass, limit not confirmed")])
def test_a_limit_set_for_the_site_is_confirmed_by_its_edition(scene, edition, words):
    set_limit_override(
        test_code="supply-failure", result_key="trip_pressure", lower=20.0, upper=30.0, unit="psi",
        reason="Service manual", source="Service manual, page 41", edition=edition, from_date=TODAY,
        site=scene.machine.site, by=scene.technician, at=NOON - timedelta(days=1),
    )  # fmt: skip
    assert words_of(scene)["trip_pressure"] == words


def test_a_limit_set_at_a_site_wins_over_its_set(scene):
    """Somebody chose it by name and reason, so that it is not applied silently."""
    Site.objects.filter(pk=scene.machine.site.pk).update(rule_set="european")
    scene.inspection.refresh_from_db()
    set_limit_override(
        test_code="supply-failure", result_key="alarm_pressure", rule="alarm-30", reason="US machines",
        source="US textbook, 6th ed.", edition="6th ed.", from_date=TODAY, site=scene.machine.site,
        by=scene.technician, at=NOON,
    )  # fmt: skip
    limits = Evaluator(scene.inspection).context(scene.step()).limits
    assert limits["alarm_pressure"].rule == "alarm-30"
