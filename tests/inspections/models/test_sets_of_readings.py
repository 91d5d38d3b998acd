"""Several sets of readings of a step: database, Python and the rule by hand agree on what decides."""

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from inspections.actions.findings import close_settled_findings, open_findings_of
from inspections.actions.signing import result_row
from inspections.at_bench.evaluated_steps import EvaluatedSteps
from inspections.bench.decision_words import inspection_words, is_settled
from inspections.kept.completions import mend_completions
from inspections.models import Finding, Inspection, InspectionStep, Result
from tests.factories import NOON, bench_result, make_machine, make_person, make_signed_inspection
from tests.rolled_back import rolled_back

DECISIONS = ("pass", "conditional pass", "conditional fail", "fail", "not decided", "not tested", "")
FAILED = ("fail", "conditional fail")
KEYS = ("trip", "residual", "alarm")

sets = st.lists(
    st.fixed_dictionaries(
        {
            "decided": st.dictionaries(st.sampled_from(KEYS), st.sampled_from(DECISIONS), max_size=3),
            "not_tested": st.sampled_from([False, False, False, True]),
        }
    ),
    min_size=1,
    max_size=4,
)


def said(*, is_not_tested=False, **decided):
    """One set of readings by hand."""
    return {"decided": decided, "not_tested": is_not_tested}


drawn_steps = st.lists(st.tuples(st.booleans(), sets), min_size=1, max_size=3)


def write_sets(inspection, drawn):
    """The rows that the actions write of these steps, and their evaluation as the signature has it."""
    steps, results = [], {}
    for position, (is_essential, drawn_sets) in enumerate(drawn, start=1):
        first = None
        for number, one in enumerate(drawn_sets, start=1):
            is_untested = one["not_tested"] and number == len(drawn_sets)
            step = InspectionStep.objects.create(
                inspection=inspection, position=position, code=f"s{position}-{number}", title=f"Step {position}",
                test_code="supply-failure", content={}, is_essential=is_essential, as_left_of=first, set_number=number,
                is_last=number == len(drawn_sets), not_tested_reason="no time" if is_untested else "",
                **({"work_done": "Repaired", "begun_by": inspection.signed_by, "begun_at": NOON} if first else {}),
            )  # fmt: skip
            first = first or step
            steps.append(step)
            if not is_untested:
                results[step] = ([], Said(one["decided"]))
                for key, decision in one["decided"].items():
                    content = bench_result(decision=decision or None, key=key)
                    result_row(step, content).save()
    return EvaluatedSteps(steps, {}, results)


class Said:
    """What an evaluated step says, as far as decisions go."""

    def __init__(self, decided):
        self.decided = {key: word for key, word in decided.items() if word}
        self.is_settled = is_settled(decided.values())


def by_hand(drawn_sets):
    """What decides of one step, from the rule as it is written: (decisions, whether it proves something)."""
    *earlier, last = drawn_sets
    shown = {} if last["not_tested"] else last["decided"]
    judged = {key for key, word in shown.items() if word in ("pass", "conditional pass", *FAILED)}
    deciding = [word for word in shown.values() if word]
    for number, one in enumerate(earlier):
        for key, word in one["decided"].items():
            later = [other["decided"].get(key) for other in earlier[number + 1 :]] + [shown.get(key)]
            if word in FAILED and not any(again in ("pass", "conditional pass", *FAILED) for again in later):
                deciding.append(word)
    asked = {key for one in earlier for key, word in one["decided"].items() if word}
    proves = bool(judged) and all(word in ("pass", "conditional pass", *FAILED) for word in shown.values() if word)
    return deciding, proves and asked <= judged


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=40
)
@given(drawn_steps)
@example([(True, [said(trip="fail"), said(residual="pass")])])
@example([(True, [said(trip="pass"), said(is_not_tested=True)])])
@rolled_back
def test_decisions_rest_on_the_last_set_and_on_failures_that_no_later_set_judged(db, drawn):
    """Database, Python and the rule by hand agree on what is untested, what decides, and what passes as left."""
    person, machine = make_person("technician"), make_machine()
    inspection = make_signed_inspection(machine, by=person, at=NOON)
    inspection.steps.all().delete()
    evaluated = write_sets(inspection, drawn)
    mend_completions()  # the factory stored what it signed
    hand = [by_hand(drawn_sets) for _, drawn_sets in drawn]
    pairs = enumerate(zip(drawn, hand, strict=True), start=1)
    untested = [position for position, ((is_essential, _), (_, proves)) in pairs if is_essential and not proves]
    assert sorted(step.position for step in inspection.steps.essential_untested()) == untested
    assert [step.position for step in evaluated.essential_untested()] == untested
    stored = Result.objects.that_decide(inspection).exclude(decision="")
    assert sorted(stored.values_list("decision", flat=True)) == sorted(word for words, _ in hand for word in words)
    keys = {(step.pk, key) for step in evaluated.results for key in evaluated.that_decide(step)}
    assert keys == set(stored.values_list("step_id", "key"))
    words = inspection_words([(word, True) for said, _ in hand for word in said], is_complete=not untested)
    listed = Inspection.objects.with_result().get(pk=inspection.pk)
    assert words == listed.result_words.replace(", limit not confirmed", "")
    assert Inspection.objects.get(pk=inspection.pk).result_words == listed.result_words


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=40
)
@given(drawn_steps)
@rolled_back
def test_each_failure_has_one_finding_and_only_a_plain_pass_as_left_settles_it(db, drawn):
    person, machine = make_person("technician"), make_machine()
    inspection = make_signed_inspection(machine, by=person, at=NOON)
    inspection.steps.all().delete()
    write_sets(inspection, drawn)
    results = list(Result.objects.filter(step__inspection=inspection).select_related("step"))
    open_findings_of(inspection, results, by=person, at=NOON)
    close_settled_findings(inspection, results, by=person, at=NOON)
    is_complete = not inspection.steps.essential_untested().exists()
    failed = Finding.objects.filter(origin="failed outcome", machine=machine).select_related("result__step")
    expected = {}
    for position, (is_essential, drawn_sets) in enumerate(drawn, start=1):
        for number, one in enumerate(drawn_sets, start=1):
            if one["not_tested"] and number == len(drawn_sets):
                continue
            for key, word in one["decided"].items():
                if word in FAILED:
                    expected.setdefault((position, key), (number, is_essential, drawn_sets))
    assert {(f.result.step.position, f.result.key): f.result.step.set_number for f in failed} == {
        place: number for place, (number, _, _) in expected.items()
    }
    for finding in failed:
        number, is_essential, drawn_sets = expected[finding.result.step.position, finding.result.key]
        last = drawn_sets[-1]
        plain = not last["not_tested"] and by_hand(drawn_sets)[1] and set(last["decided"].values()) <= {"pass", ""}
        passes = number < len(drawn_sets) and plain and is_complete
        assert finding.passes_as_left is passes
        assert finding.is_open is (is_essential or not passes)
        assert finding.awaits_withdrawal is (is_essential and not passes)
        assert Finding.objects.awaiting_withdrawal().filter(pk=finding.pk).exists() is finding.awaits_withdrawal
