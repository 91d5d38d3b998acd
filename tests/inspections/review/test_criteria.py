"""The published criteria answered for one machine at a time."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis.strategies import dictionaries, integers, sampled_from, sets
from pytest import mark

from fleet.catalogue import FEATURES, Equipment
from fleet.catalogue.gaps import bad_state, good_state, judge_feature
from fleet.catalogue.loading import CatalogueError, Entry
from inspections.review import (
    CRITERIA,
    Conclusion,
    DecidedBy,
    Event,
    FeatureFact,
    Judgement,
    Status,
    UnknownCriterion,
    Upkeep,
    closing,
    get_criterion,
    review,
)
from inspections.review.criteria import criterion_from
from tests.inspections.review.machines import TODAY, broken, make_facts

ABSOLUTE = [code for code in CRITERIA if code.startswith("A")]
OF_A_FEATURE = [code for code, each in CRITERIA.items() if each.decided_by is DecidedBy.FEATURE]
SERVED = sorted({code for each in OF_A_FEATURE for code in FEATURES[CRITERIA[each].feature].fulfilled_by})
WATCHED = sorted({CRITERIA[code].feature for code in OF_A_FEATURE} | set(SERVED))
RELATIVE = [code for code in CRITERIA if code.startswith("R")]


def answer(facts, code):
    return next(each for each in review(facts).answers if each.criterion.code == code)


def test_there_are_eleven_absolute_and_eleven_relative_criteria():
    # Source: ASA 2004 guideline (three absolute groups seen, items from memory)
    assert (len(ABSOLUTE), len(RELATIVE)) == (11, 11)
    groups = {each.group for each in CRITERIA.values() if each.is_absolute}
    assert groups == {"missing safety feature", "unacceptable feature", "maintenance"}


@mark.parametrize("code", ABSOLUTE)
def test_any_one_absolute_criterion_makes_a_machine_obsolete(code):  # Source: ASA 2004 guideline, from memory
    found = review(broken(make_facts(), code))
    assert [each.criterion.code for each in found.absolute_met] == [code]
    assert found.conclusion is Conclusion.OBSOLETE


@mark.parametrize("code", RELATIVE)
def test_any_one_relative_criterion_asks_to_consider_replacement(code):  # Source: ASA 2004 guideline, from memory
    found = review(broken(make_facts(), code))
    assert [each.criterion.code for each in found.relative_met] == [code]
    assert found.conclusion is Conclusion.CONSIDER


def test_all_eleven_relative_criteria_are_still_no_absolute_one():  # Source: ASA 2004 guideline, from memory
    found = review(broken(make_facts(), *RELATIVE))
    assert (len(found.absolute_met), len(found.relative_met)) == (0, 11)
    assert found.conclusion is Conclusion.CONSIDER


def test_age_alone_retires_nothing():  # Source: ASA 2004 guideline, preamble, seen: age alone is never a reason
    assert review(make_facts(built_year=TODAY.year - 50)).conclusion is Conclusion.KEEP


@given(built=integers(1940, 2026))
def test_no_age_ever_changes_the_conclusion(built):
    assert review(make_facts(built_year=built)).conclusion is review(make_facts()).conclusion


def test_a_missing_alarm_alone_changes_the_conclusion():  # Source: ASA 2004 guideline, from memory
    facts = make_facts()
    assert review(facts).conclusion is Conclusion.KEEP
    assert review(broken(facts, "A3")).conclusion is Conclusion.OBSOLETE


@given(met=sets(sampled_from(list(CRITERIA))))
def test_the_conclusion_follows_the_worst_kind_of_criterion_met(met):
    found = review(broken(make_facts(), *met))
    expected = Conclusion.OBSOLETE if met & set(ABSOLUTE) else Conclusion.CONSIDER if met else Conclusion.KEEP
    assert found.conclusion is expected


def test_ratio_protection_is_not_asked_of_a_machine_without_nitrous_oxide():
    facts = make_facts(equipment=Equipment(gases=frozenset({"oxygen", "air"})))
    found = answer(broken(facts, "A1"), "A1")
    assert (found.status, found.reason) == (
        Status.NOT_APPLICABLE,
        "Minimum oxygen ratio protection is not needed here: it delivers no nitrous oxide.",
    )


@given(
    states=dictionaries(sampled_from(WATCHED), sampled_from(["fitted", "not fitted", "not known"])),
    gases=sampled_from([{"oxygen"}, {"oxygen", "air"}, {"oxygen", "nitrous-oxide"}]),
)
def test_a_criterion_of_a_feature_is_met_exactly_where_the_feature_is_a_gap(states, gases):
    equipment = Equipment(gases=frozenset(gases), vaporizer_positions=1)
    facts = make_facts(equipment=equipment, features={code: FeatureFact(state) for code, state in states.items()})
    met = {each.criterion.code for each in review(facts).answers if each.status is Status.MET}
    gaps = {code for code in OF_A_FEATURE if judge_feature(FEATURES[CRITERIA[code].feature], states, equipment).is_gap}
    assert met & set(OF_A_FEATURE) == gaps


@mark.parametrize("code", ["ratio-protection", "measured-flow-vaporizer"])
def test_a_criterion_cannot_be_met_by_the_state_that_protects(code):
    fields = {"decided_by": "feature", "feature": code, "when": good_state(FEATURES[code]), "hazards": []}
    with pytest.raises(CatalogueError, match=f"accepted for {code}: {bad_state(FEATURES[code])}"):
        criterion_from(Entry("criteria.toml", 1, fields))


def test_electronic_mixing_stands_in_for_a_ratio_device():
    facts = broken(make_facts(), "A1")
    mixed = replace(facts, features={**facts.features, "electronic-mixing": FeatureFact("fitted")})
    assert answer(mixed, "A1").status is Status.NOT_MET


def test_an_unknown_absolute_criterion_is_an_open_question():
    facts = make_facts()
    found = review(replace(facts, features={**facts.features, "pin-index": FeatureFact("not known")}))
    assert [each.criterion.code for each in found.open_questions] == ["A5"]
    assert found.is_provisional
    assert found.summary == "Keep: no criterion is met. Open questions: A5."


def test_a_reason_carries_the_evidence():
    facts = make_facts()
    features = {**facts.features, "o2-supply-alarm": FeatureFact("not fitted", "seen at inspection 12")}
    found = answer(replace(facts, features=features), "A3")
    assert found.reason == "Oxygen supply-pressure alarm: not fitted (seen at inspection 12)."


@mark.parametrize(
    ("upkeep", "status"),
    [
        (Upkeep(until=TODAY), Status.NOT_MET),
        (Upkeep(until=date(2026, 11, 24)), Status.MET),
        (Upkeep(is_available=False), Status.MET),
        (Upkeep(is_available=False, until=date(2030, 1, 1)), Status.MET),
        (Upkeep(is_available=True), Status.NOT_MET),
        (Upkeep(), Status.NOT_KNOWN),
    ],
)
def test_upkeep_ends_the_day_after_its_last_day(upkeep, status):
    assert answer(make_facts(upkeep=upkeep), "A11").status is status


def test_a_judged_criterion_tells_who_when_and_why():
    judged = Judgement(True, "Largest bellows give 800 mL", by="P. Lind", on=date(2026, 3, 2))
    found = answer(make_facts(judgements={"R11": judged}), "R11")
    assert found.reason == "Judged by P. Lind on 2 Mar 2026: Largest bellows give 800 mL."


def test_a_short_record_leaves_the_trend_not_known():
    assert answer(make_facts(watched_from=date(2026, 6, 1)), "R7").status is Status.NOT_KNOWN


def test_few_findings_are_no_growing_trend():
    findings = tuple(Event(date(2026, 11, day), "leak") for day in (1, 2, 3, 4))
    assert answer(make_facts(findings=findings), "R7").status is Status.NOT_MET


def test_a_feature_state_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="'maybe'; accepted: fitted, not fitted, not known"):
        FeatureFact("maybe")


def test_an_unknown_criterion_is_refused_with_those_there_are():
    with pytest.raises(UnknownCriterion, match="no criterion 'A12'.*A11, R1"):
        get_criterion("A12")


def test_retrofits_are_named_and_what_they_cannot_close_is_left_over():
    # A4 can be closed by an exclusion bar, R5 by a retaining bar; A1 and A11 by no retrofit (catalogue)
    found = closing(review(broken(make_facts(), "A1", "A4", "A11", "R5")))
    assert [each.criterion.code for each in found.alterations] == ["A4", "R5"]
    assert [each.criterion.code for each in found.left_over] == ["A1", "A11"]
    assert not found.closes_all_absolute
    assert "exclusion bar" in found.alterations[0].note


@given(met=sets(sampled_from(list(CRITERIA))))
def test_closing_splits_the_met_criteria_without_loss(met):
    found = closing(review(broken(make_facts(), *met)))
    split = [each.criterion.code for each in found.alterations + found.left_over]
    assert sorted(split) == sorted(met)


def test_the_same_facts_give_the_same_review():
    facts = broken(make_facts(), "A2", "R7")
    assert review(facts) == review(facts)
