"""Which safety features the shipped procedures test, and what each of their steps says."""

import tomllib

import pytest

from fleet.catalogue import COMPONENT_KINDS, FEATURES, FeatureClass
from fleet.catalogue.gaps import ESSENTIAL
from inspections.at_bench.found_failures import KNOWN_FAILURES, read_failure
from inspections.at_bench.procedure_files import DIRECTORY, read_procedures, read_shared_steps
from inspections.at_bench.step_content import features_of, is_repeated_after, worded

PROCEDURES = {content["code"]: content for content in read_procedures()}
STEPS = [(code, step) for code, content in PROCEDURES.items() for step in content["step"]]
WHOLE = ("yearly", "acceptance", "return-to-service")  # test all that is essential, without exception
PERIODIC = ("yearly", "half-yearly", "acceptance", "return-to-service")  # the others are done on occasion by users
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


@pytest.mark.parametrize("procedure", PERIODIC)
def test_leaks_flush_and_the_one_way_valves_are_tested_although_no_safety_feature_names_them(procedure):
    steps = {step["code"]: step for step in PROCEDURES[procedure]["step"]}
    for code in ("low-pressure-leak", "breathing-system-leak", "flush", "one-way-valves", "reserve-oxygen"):
        assert steps[code]["essential"] and not features_of(steps[code])


def test_only_the_yearly_and_the_half_yearly_inspection_have_an_interval():
    planned = {code for code, content in PROCEDURES.items() if "interval_months" in content}
    assert planned == {"yearly", "half-yearly"}


def test_acceptance_leaves_out_nothing_that_a_periodic_inspection_tests():
    of_acceptance = {step["code"] for step in PROCEDURES["acceptance"]["step"]}
    assert {step["code"] for procedure, step in STEPS if procedure in PERIODIC} <= of_acceptance


@pytest.mark.parametrize(("procedure", "step"), STEPS, ids=[f"{code}-{step['code']}" for code, step in STEPS])
def test_each_step_says_what_it_is_for_what_is_done_what_is_dangerous_and_where_it_comes_from(procedure, step):
    step = worded(step)
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


NOT_FOUND = tomllib.loads((DIRECTORY / "steps.toml").read_text(encoding="utf-8"))["not_found"]


def names(failures):
    return {f"{one.kind}: {one.mode}" for one in map(read_failure, failures)}


FOUND_YEARLY = names(failure for step in PROCEDURES["yearly"]["step"] for failure in step["finds"])


@pytest.mark.parametrize("procedure", PERIODIC)
def test_each_shared_step_says_what_it_finds(procedure):
    assert all("finds" in step for step in PROCEDURES[procedure]["step"])


@pytest.mark.parametrize("failure", KNOWN_FAILURES)
def test_each_failure_of_a_component_is_found_by_the_yearly_or_named_with_the_reason_why_not(failure):
    reasons = [entry["reason"] for entry in NOT_FOUND if failure in names(entry["failures"])]
    assert failure in FOUND_YEARLY or reasons
    assert all(len(reason.split()) >= 8 for reason in reasons)


def test_what_is_named_as_not_found_is_found_by_no_inspection_at_the_bench_as_a_whole():
    found = {text for code, step in STEPS if code != "exposure" for text in step.get("finds", ())}
    assert not found.intersection(failure for entry in NOT_FOUND for failure in entry["failures"])


@pytest.mark.parametrize("step", [step for code, step in STEPS if code in PERIODIC])
def test_a_step_finds_only_failures_of_components_after_whose_repair_it_is_repeated(step):
    kinds = {read_failure(text).kind for text in step.get("finds", ())}
    assert {kind for kind in kinds if not is_repeated_after(step, kind)} == set()
