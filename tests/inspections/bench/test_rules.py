"""Whose rules judge where: the table of rules, and the choice by set, year and name."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.bench import TESTS
from inspections.bench.decisions import Decision
from inspections.bench.guard import evaluate
from inspections.bench.rules import (
    MADE_FROM_READINGS,
    NOT_CHOSEN,
    PUBLISHED_SETS,
    RULES,
    State,
    belongs_to,
    rules_that_apply,
)
from inspections.bench.serialise import context_from_dict, sheet_from_dict
from inspections.bench.strictest import evaluate_by_all
from tests.inspections.bench.making import evaluate as evaluated
from tests.inspections.bench.sound_sheets import SOUND

GAUGE = {"code": "G", "scales": [{"unit": "psi", "low": 0, "high": 100, "resolution": 1e-3,
                                 "accuracy": {"absolute": 1e-3}}]}  # fmt: skip
SETS = ("", *PUBLISHED_SETS, "own")
RESULTS = sorted({(test.code, limit.key) for test in TESTS.values() for limit in test.default_limits})
PIPELINE = TESTS["pipeline-supply"]


def pipeline(psi, rule_set, named=None):
    """The decision on a pipeline pressure at a site with this set."""
    sheet = sheet_from_dict({"values": {"pressure": {"value": psi, "unit": "psi", "instrument": "G"}}})
    limits = rules_that_apply(PIPELINE.default_limits, "pressure", rule_set=rule_set, named=named)
    judged = evaluate_by_all(PIPELINE, sheet, context_from_dict({"instruments": [GAUGE]}), {"pressure": limits})
    return judged.result("pressure")


@pytest.mark.parametrize("test", TESTS.values(), ids=TESTS)
def test_every_limit_says_whose_rule_it_is(test):
    for limit in test.default_limits:
        rule = RULES[limit.rule]
        assert rule.body and rule.jurisdiction and rule.edition and rule.basis


def test_a_superseded_rule_or_a_proposal_names_what_came_after():
    for rule in RULES.values():
        if rule.state is not State.CURRENT or rule.superseded_for:
            assert rule.superseded_by, rule.code


def test_rules_made_from_readings_are_in_the_table():
    assert set(MADE_FROM_READINGS.values()) <= set(RULES)


@pytest.mark.parametrize("name", SOUND)
def test_every_rule_that_judges_a_sound_machine_is_in_the_table_and_can_be_confirmed(name):
    code, (given_sheet, surroundings) = name.partition(",")[0], SOUND[name]
    listed = {(one.key, one.rule) for one in TESTS[code].default_limits}
    for result in evaluated(code, given_sheet, surroundings).results:
        if result.limit is not None and result.key != "leak_vaporizers":  # judged by the limit of the leak
            assert result.limit.rule in RULES, result.key
            made = MADE_FROM_READINGS.get((code, result.key)) == result.limit.rule
            assert made or (result.key, result.limit.rule) in listed or result.limit.unit == "yes/no", result.key


@given(
    st.sampled_from(RESULTS),
    st.sampled_from(SETS),
    st.none() | st.integers(1960, 2030),
    st.sampled_from([*RULES, None]),
)
def test_only_rules_of_the_set_apply_and_no_proposal_by_itself(evaluation, rule_set, year, named):
    code, key = evaluation
    for limit in rules_that_apply(TESTS[code].default_limits, key, rule_set=rule_set, built_year=year, named=named):
        assert belongs_to(limit, rule_set)
        assert limit.rule == named or RULES[limit.rule].state_for(key) is not State.PROPOSAL


@given(st.sampled_from(RESULTS), st.sampled_from(SETS), st.integers(1960, 2030))
def test_an_unknown_year_is_judged_by_every_rule_that_a_known_one_is(evaluation, rule_set, year):
    code, key = evaluation
    offered = TESTS[code].default_limits
    known = rules_that_apply(offered, key, rule_set=rule_set, built_year=year)
    assert set(known) <= set(rules_that_apply(offered, key, rule_set=rule_set))


@given(st.sampled_from(RESULTS), st.integers(1960, 2030))
def test_no_set_chosen_is_judged_by_every_rule_that_a_chosen_one_is(evaluation, year):
    code, key = evaluation
    offered = TESTS[code].default_limits
    every = set(rules_that_apply(offered, key, built_year=year))
    assert every == {one for s in PUBLISHED_SETS for one in rules_that_apply(offered, key, rule_set=s, built_year=year)}


def test_53_psi_passes_in_the_united_states_only():
    """45 to 55 psi of 1992 is a proposal; ISO 7396-1 and AAGBI 2012 ask for 400 to 500 kPa, 58 psi or more."""
    assert pipeline(53, "us").decision is Decision.PASS
    assert pipeline(53, "us").limit.rule in ("asa08", "nfpa99")
    for rule_set in ("european", "international", ""):
        assert pipeline(53, rule_set).decision is Decision.FAIL
    assert pipeline(53, "european", named="fda92").decision is Decision.FAIL


def test_without_a_set_a_pressure_that_no_set_agrees_on_fails():
    """From 58 psi (400 kPa) on the European rules are met, up to 60 psi NFPA 99 as well."""
    assert pipeline(59, "").decision is Decision.PASS
    assert pipeline(62, "").limit.rule == "nfpa99"


def test_own_rules_take_none_that_is_published():
    assert rules_that_apply(PIPELINE.default_limits, "pressure", rule_set="own") == ()


@given(st.floats(30, 80))
def test_by_several_limits_the_worst_decision_counts(psi):
    order = [Decision.FAIL, Decision.CONDITIONAL_FAIL, Decision.NOT_DECIDED, Decision.CONDITIONAL_PASS, Decision.PASS]
    sheet = sheet_from_dict({"values": {"pressure": {"value": psi, "unit": "psi", "instrument": "G"}}})
    limits = rules_that_apply(PIPELINE.default_limits, "pressure")
    single = [
        evaluate(PIPELINE, sheet, context_from_dict({"instruments": [GAUGE], "limits": {"pressure": _as_dict(one)}}))
        .result("pressure")
        .decision
        for one in limits
    ]
    assert pipeline(psi, "").decision is min(single, key=order.index)


def _as_dict(limit):
    return {"key": limit.key, "rule": limit.rule, "title": limit.title, "lower_si": limit.lower_si,
            "upper_si": limit.upper_si, "unit": limit.unit, "source": limit.source, "edition": limit.edition,
            "basis": limit.basis}  # fmt: skip


def test_a_limit_of_the_house_judges_in_the_place_of_what_is_published():
    """A limit that a model, a site or a procedure states is of no published rule; of every set it is the only one."""
    published = TESTS["pipeline-supply"].default_limits
    own = replace(next(one for one in published if one.key == "pressure"), rule="local-pressure")
    for rule_set in (*PUBLISHED_SETS, NOT_CHOSEN):
        assert rules_that_apply([*published, own], "pressure", rule_set=rule_set) == (own,)
