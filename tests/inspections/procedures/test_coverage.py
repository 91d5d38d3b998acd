"""Which safety features the shipped procedures test, and what each of their steps says."""

import pytest

from fleet.catalogue import COMPONENT_KINDS, FEATURES, FeatureClass
from fleet.catalogue.gaps import ESSENTIAL
from inspections.at_bench.procedure_files import read_procedures, read_shared_steps
from inspections.at_bench.step_content import features_of, is_repeated_after

PROCEDURES = {content["code"]: content for content in read_procedures()}
STEPS = [(code, step) for code, content in PROCEDURES.items() for step in content["step"]]
WHOLE = ("yearly", "acceptance", "return-to-service")  # test all that is essential, without exception
PROTECTING = [code for code, feature in FEATURES.items() if feature.feature_class is not FeatureClass.UNWANTED]


def steps_for(procedure, feature):
    return [step for step in PROCEDURES[procedure]["step"] if feature in features_of(step)]


def reason_of(procedure, feature):
    """Why the procedure does not test the safety feature; empty if it does not say."""
    entries = PROCEDURES[procedure].get("not_tested_here", [])
    return " ".join(entry["reason"] for entry in entries if feature in entry["features"])


@pytest.mark.parametrize("procedure", WHOLE)
@pytest.mark.parametrize("feature", ESSENTIAL)
def test_every_essential_safety_feature_has_an_essential_step(procedure, feature):
    assert [step["essential"] for step in steps_for(procedure, feature)] == [True]


@pytest.mark.parametrize("procedure", PROCEDURES)
@pytest.mark.parametrize("feature", PROTECTING)
def test_every_safety_feature_has_a_step_or_a_sentence_why_not(procedure, feature):
    has_step, reason = bool(steps_for(procedure, feature)), reason_of(procedure, feature)
    assert has_step or len(reason.split()) >= 8, f"{procedure} says nothing of {feature}"
    assert not (has_step and reason)


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_leaks_flush_and_the_one_way_valves_are_tested_although_no_safety_feature_names_them(procedure):
    steps = {step["code"]: step for step in PROCEDURES[procedure]["step"]}
    for code in ("low-pressure-leak", "breathing-system-leak", "flush", "one-way-valves", "reserve-oxygen"):
        assert steps[code]["essential"] and not features_of(steps[code])


def test_only_acceptance_and_return_to_service_have_no_interval():
    on_occasion = {code for code, content in PROCEDURES.items() if "interval_months" not in content}
    assert on_occasion == {"acceptance", "return-to-service"}


def test_acceptance_leaves_out_nothing_that_a_periodic_inspection_tests():
    of_acceptance = {step["code"] for step in PROCEDURES["acceptance"]["step"]}
    assert {step["code"] for _, step in STEPS} <= of_acceptance


@pytest.mark.parametrize(("procedure", "step"), STEPS, ids=[f"{code}-{step['code']}" for code, step in STEPS])
def test_each_step_says_what_it_is_for_what_is_done_what_is_dangerous_and_where_it_comes_from(procedure, step):
    assert step["purpose"].endswith(".")
    assert step.get("item" if step["test"] == "observation" else "instruction", "").endswith(".")
    assert "manufacturer's instructions" in step["caution"]
    assert step["source"]


def test_every_shared_step_is_used():
    assert set(read_shared_steps()) == {step["code"] for _, step in STEPS}


@pytest.mark.parametrize("kind", COMPONENT_KINDS)
def test_work_on_any_kind_of_component_is_followed_by_a_step(kind):
    unwanted = [code for code in COMPONENT_KINDS[kind].evidences if FEATURES[code].is_unwanted]
    repeated = [step["code"] for _, step in STEPS if is_repeated_after(step, kind)]
    assert repeated, f"no step is repeated after work on a {kind}"
    wanted = set(COMPONENT_KINDS[kind].evidences) - set(unwanted) - {"outlet-relief"}  # declared as not tested
    assert wanted <= {feature for _, step in STEPS if is_repeated_after(step, kind) for feature in features_of(step)}
