from dataclasses import replace

import pytest

from fleet.catalogue import FEATURES, Equipment, get_feature
from fleet.catalogue.gaps import Standing, bad_state, good_state, judge_feature
from fleet.models import FeatureState, Machine
from tests.factories import TODAY, make_machine, make_model

FULL = Equipment(gases=frozenset({"oxygen", "nitrous-oxide", "air"}), vaporizer_positions=2)


def standing(code, states, equipment=FULL):
    return judge_feature(get_feature(code), states, equipment).standing


@pytest.mark.parametrize(
    ("code", "state", "expected"),
    [
        ("ratio-protection", "fitted", Standing.COVERED),
        ("ratio-protection", "not fitted", Standing.GAP),
        ("ratio-protection", "not known", Standing.DOUBT),
        ("measured-flow-vaporizer", "fitted", Standing.GAP),
        ("measured-flow-vaporizer", "not fitted", Standing.COVERED),
    ],
)
def test_a_state_is_a_gap_when_a_protection_lacks_or_an_unwanted_thing_is_there(code, state, expected):
    assert standing(code, {code: state}) is expected


def test_what_was_never_recorded_is_in_doubt():
    assert standing("ratio-protection", {}) is Standing.DOUBT


@pytest.mark.parametrize("code", FEATURES)
def test_the_good_state_covers_and_the_bad_state_is_a_gap(code):
    assert standing(code, {code: good_state(get_feature(code))}) is Standing.COVERED
    assert standing(code, {code: bad_state(get_feature(code))}) is Standing.GAP


def test_a_protection_does_not_apply_where_the_machine_lacks_what_it_guards():
    judged = judge_feature(
        get_feature("ratio-protection"), {"ratio-protection": "not fitted"}, replace(FULL, gases=frozenset({"oxygen"}))
    )
    assert (judged.standing, judged.reason) == (Standing.DOES_NOT_APPLY, "it delivers no nitrous oxide")


def test_another_protection_that_does_the_same_job_closes_the_gap():
    states = {"ratio-protection": "not fitted", "electronic-mixing": "fitted"}
    assert standing("ratio-protection", states) is Standing.REPLACED


GAPS_AND_NOT = {
    "ratio-protection": "not fitted",  # a gap where nitrous oxide is given and mixing is not electronic
    "vaporizer-exclusion": "not fitted",  # a gap where two vaporizers find place
    "o2-supply-alarm": "not fitted",  # a gap everywhere
    "o2-analyser": "not known",  # a doubt, not a gap
    "outlet-retention": "not fitted",  # not essential
}


@pytest.mark.parametrize(
    "model",
    [
        {},
        {"gases": ["oxygen", "air"]},
        {"vaporizer_positions": 1},
        {"gases": ["oxygen"], "vaporizer_positions": 0},
    ],
)
@pytest.mark.parametrize("mixing", ["fitted", "not fitted"])
def test_the_list_counts_the_same_gaps_as_the_page_judges(db, model, mixing):
    states = {**GAPS_AND_NOT, "electronic-mixing": mixing}
    machine = make_machine(model=make_model(features=states, **model))
    counted = Machine.objects.with_missing_count(TODAY).with_missing_essential(TODAY).get(pk=machine.pk)
    judged = {
        code
        for code in GAPS_AND_NOT
        if get_feature(code).feature_class == "essential"
        and judge_feature(get_feature(code), states, machine.model.equipment).is_gap
    }
    assert {row.feature for row in counted.missing_essential} == judged
    assert counted.missing_count == len(judged)


def test_missing_protections_are_those_of_the_date_asked_for(db):
    machine = make_machine(features={"o2-supply-alarm": "not fitted"})
    before = FeatureState.objects.missing_essential(machine.in_use_from.replace(year=2014))
    assert not before.exists()
    assert FeatureState.objects.missing_essential(TODAY).count() == 1
