"""A repaired step is tested again as left: what failed as found is kept, and decisions rest on the last set."""

import json
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fleet.actions import withdraw_machine
from inspections.actions import (
    begin_as_left,
    close_finding,
    release_machine,
    set_not_tested,
    undo_as_left,
)
from inspections.actions.findings import close_settled_findings, open_findings_of
from inspections.actions.signing import result_row
from inspections.at_bench.evaluated_steps import EvaluatedSteps
from inspections.bench.decision_words import inspection_words, is_settled
from inspections.deciding.release import reasons_against_release
from inspections.errors import NotReadyToSign, RecordFrozen, Refused, StageRefused
from inspections.models import Finding, Inspection, InspectionStep, Result
from inspections.on_machine_page.latest_results import machine_results
from inspections.records.signed_record import ShownRecord
from inspections.retirement.gathering import review_of
from tests.factories import NOON, TODAY, bench_result, make_machine, make_person, make_signed_inspection
from tests.inspections.scenes import FAILING, PASSING, enter

LATER = NOON + timedelta(minutes=30)
SIGNED = NOON + timedelta(hours=1)
DECISIONS = ("pass", "conditional pass", "conditional fail", "fail", "not decided", "not tested", "")
FAILED = ("fail", "conditional fail")
KEYS = ("trip", "residual", "alarm")


def as_left(scene, code="supply-failure", *, work="Spring of the cut-off valve renewed.", at=LATER):
    return begin_as_left(scene.step(code), work_done=work, by=scene.technician, at=at)


def sweep(scene, step, rows=PASSING, *, at=LATER):
    """Enter the whole supply failure test into a set of readings."""
    by = {"by": scene.technician, "at": at}
    psi, flow = {"unit": "psi", "instrument": scene.gauge}, {"unit": "L/min", "instrument": scene.flowmeter}
    enter(step, "full_pressure", as_read="50", **psi, **by)
    enter(step, "set_flow", as_read="4.0", **flow, **by)
    for field, cells in (("falling", rows), ("rising", RISING)):
        for row, (pressure, read) in enumerate(cells):
            enter(step, field, row=row, column="pressure", as_read=pressure, **psi, **by)
            enter(step, field, row=row, column="flow", as_read=read, **flow, **by)


RISING = [("20", "0.0"), ("24", "0.2"), ("28", "3.8"), ("50", "4.0")]


def repaired(scene, rows=PASSING):
    """An essential step that failed as found and was tested again as left."""
    scene.complete(FAILING)
    left = as_left(scene)
    sweep(scene, left, rows)
    return left


class TestBeginning:
    def test_the_set_as_left_follows_the_one_as_found_and_is_empty(self, scene):
        scene.complete(FAILING)
        left, found = as_left(scene), scene.step()
        assert (found.state, left.state, left.as_left_of, left.readings.count()) == ("as found", "as left", found, 0)
        assert str(left) == f"{found.title}: nitrous oxide, as left" and str(found).endswith(", as found")
        assert found.following() == left and left.following() == scene.step("alarm")
        assert left.what == found.what and left.content == found.content

    @pytest.mark.parametrize("work", ["", "  "])
    def test_it_needs_the_sentence_of_what_was_done(self, scene, work):
        scene.complete(FAILING)
        with pytest.raises(Refused, match="state in a sentence"):
            as_left(scene, work=work)

    def test_readings_as_found_must_be_complete_first(self, scene):
        scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
        with pytest.raises(Refused, match="complete these readings first"):
            as_left(scene)

    def test_a_step_marked_as_not_tested_has_nothing_as_found(self, scene):
        scene.leave_untested("flush", "No flowmeter.")
        with pytest.raises(Refused, match="nothing as found"):
            as_left(scene, "flush")

    def test_a_set_that_has_a_later_one_is_not_begun_again(self, scene):
        repaired(scene)
        with pytest.raises(Refused, match="later set of readings already"):
            as_left(scene)

    def test_a_signed_inspection_takes_none(self, scene):
        scene.complete()
        scene.sign()
        with pytest.raises(RecordFrozen):
            as_left(scene)

    def test_what_was_found_cannot_be_marked_as_not_tested_afterwards(self, scene):
        repaired(scene)
        with pytest.raises(StageRefused, match="these readings stay"):
            scene.leave_untested("supply-failure", "not needed")
        assert scene.step().not_tested_reason == ""

    def test_a_further_set_follows_one_that_failed_again(self, scene):
        second = repaired(scene, FAILING)
        third = begin_as_left(second, work_done="Valve renewed.", by=scene.technician, at=LATER)
        assert (third.set_number, third.first_set_id, third.set_words) == (3, scene.step().pk, "as left, set 3")
        second.refresh_from_db()
        assert [second.is_last, third.is_last] == [False, True] and second.following() == third


class TestUndoing:
    def test_an_empty_set_is_taken_back_and_the_step_is_as_before(self, scene):
        scene.complete(FAILING)
        before = undo_as_left(as_left(scene), by=scene.technician, at=LATER)
        assert (before, before.state, before.is_last) == (scene.step(), "", True)
        assert scene.inspection.steps.count() == 3

    @pytest.mark.parametrize("entered", ["reading", "cleared reading", "mark"])
    def test_one_that_holds_anything_stays(self, scene, entered):
        scene.complete(FAILING)
        left = as_left(scene)
        if entered == "mark":
            set_not_tested(left, reason="No gauge left", by=scene.technician, at=LATER)
            set_not_tested(left, reason="", by=scene.technician, at=LATER)
        else:
            read = {"as_read": "50", "unit": "psi", "instrument": scene.gauge}
            enter(left, "full_pressure", by=scene.technician, at=LATER, **read)
            left.readings.update(**({"superseded_at": LATER} if "cleared" in entered else {"as_read": "50"}))
        with pytest.raises(Refused, match="something was entered"):
            undo_as_left(left, by=scene.technician, at=LATER)
        assert scene.inspection.steps.count() == 4

    def test_the_set_as_found_is_never_taken_back(self, scene):
        repaired(scene)
        with pytest.raises(Refused, match="cannot be taken back"):
            undo_as_left(scene.step(), by=scene.technician, at=LATER)


class TestSigning:
    def test_an_empty_set_as_left_cannot_be_signed(self, scene):
        scene.complete(FAILING)
        as_left(scene)
        with pytest.raises(NotReadyToSign, match="as left: still needed"):
            scene.sign()

    def test_the_finding_keeps_what_was_found_and_the_result_is_as_left(self, scene):
        repaired(scene)
        inspection = scene.sign()
        [finding] = Finding.objects.all()
        assert finding.result.step == scene.step() and finding.is_essential and "as found" in finding.title
        assert (inspection.result_words, inspection.is_incomplete) == ("pass, limit not confirmed", False)

    def test_an_essential_one_that_passes_as_left_asks_for_no_withdrawal_and_can_be_closed(self, scene):
        repaired(scene)
        inspection = scene.sign()
        [finding] = Finding.objects.all()
        assert finding.is_open and not finding.awaits_withdrawal
        assert not Finding.objects.awaiting_withdrawal().exists()
        close_finding(finding, note="Spring renewed", by=scene.technician, at=SIGNED)
        assert not finding.is_open and not inspection.is_incomplete

    @pytest.mark.parametrize("left", ["fails", "not tested"])
    def test_one_that_does_not_pass_as_left_asks_for_withdrawal(self, scene, left):
        scene.complete(FAILING)
        second = as_left(scene)
        if left == "fails":
            sweep(scene, second, FAILING)
        else:
            set_not_tested(second, reason="No time", by=scene.technician, at=LATER)
        inspection = scene.sign()
        found = Finding.objects.essential().get()
        assert found.result.step == scene.step() and found.awaits_withdrawal
        assert list(Finding.objects.awaiting_withdrawal()) == [found]
        assert inspection.result_words.startswith("fail")
        assert inspection.is_incomplete is (left == "not tested")

    @pytest.mark.parametrize(("answer", "is_open"), [("yes", False), ("no", True)])
    def test_another_finding_is_closed_by_the_signature_if_it_passes_as_left(self, scene, answer, is_open):
        scene.complete(alarm="no")
        left = as_left(scene, "alarm", work="Reed of the whistle cleaned")
        enter(left, "seen", as_read=answer, by=scene.technician, at=LATER)
        scene.sign()
        [finding] = Finding.objects.all()
        assert (finding.result.step, finding.is_open) == (scene.step("alarm"), is_open)
        assert is_open or finding.closing_note == f"{scene.inspection}: Reed of the whistle cleaned. It passed as left."

    def test_one_that_was_left_untested_stays_open(self, scene):
        scene.complete(alarm="no")
        left = as_left(scene, "alarm")
        set_not_tested(left, reason="No oxygen left", by=scene.technician, at=LATER)
        inspection = scene.sign()
        assert Finding.objects.open().get().result.step == scene.step("alarm")
        assert inspection.result_words.startswith("fail")

    def test_the_record_names_both_sets_and_the_work(self, scene):
        repaired(scene)
        record = ShownRecord(scene.sign().record)
        found, left = (step for step in record.tested if step.content["test"] == "supply-failure")
        assert (found.content["state"], left.content["state"]) == ("as found", "as left")
        assert (found.decision, left.decision) == ("fail, limit not confirmed", "pass, limit not confirmed")
        assert "Spring of the cut-off valve renewed." in left.repairs[0] and "Ana Ferro" in left.repairs[0]
        assert [word for word, _ in record.counts] == ["not tested", "pass", "pass, limit not confirmed"]
        assert record.result["words"] == "pass, limit not confirmed"


def test_keys_of_repairs_are_absent_where_nothing_was_repaired(scene):
    scene.complete()
    steps = json.loads(scene.sign().record.content)["steps"]
    assert not {"state", "superseded", "set", "work", "replaced"} & {key for step in steps for key in step}


class TestReleasing:
    def test_a_retest_that_was_repaired_meanwhile_releases_and_closes_both_findings(self, scene):
        scene.complete(FAILING)
        scene.sign()
        withdraw_machine(scene.machine, by=scene.technician, at=SIGNED, reason="Trips at 39 psi")
        scene.machine.refresh_from_db()
        at = SIGNED + timedelta(hours=1)
        scene.again(at=at)
        scene.complete(FAILING, at=at)
        sweep(scene, as_left(scene, at=at), at=at)
        retest = scene.sign(at=at + timedelta(hours=1))
        assert Finding.objects.open().count() == 2
        assert reasons_against_release(scene.machine, retest) == []
        release_machine(scene.machine, retest=retest, reason="Spring", by=scene.other, at=at + timedelta(hours=2))
        assert not Finding.objects.open().exists()

    def test_one_that_fails_as_left_releases_nothing(self, scene):
        scene.complete(FAILING)
        scene.sign()
        withdraw_machine(scene.machine, by=scene.technician, at=SIGNED, reason="Trips at 39 psi")
        at = SIGNED + timedelta(hours=1)
        scene.again(at=at)
        scene.complete(PASSING, at=at)
        sweep(scene, as_left(scene, at=at), FAILING, at=at)
        retest = scene.sign(at=at + timedelta(hours=1))
        assert any("is a fail" in reason for reason in reasons_against_release(scene.machine, retest))


class TestAfterwards:
    def test_the_latest_value_is_as_left_and_the_failure_is_counted_once(self, scene):
        second = repaired(scene, FAILING)
        third = begin_as_left(second, work_done="Valve renewed.", by=scene.technician, at=LATER)
        sweep(scene, third)
        scene.sign()
        latest = {history.latest.key: history.latest for history in machine_results(scene.machine)}
        assert latest["trip_pressure"].step == third
        failed = Result.objects.filter(key="trip_pressure").failed()
        assert failed.count() == 2 and failed.failures().get().step == scene.step()
        assert len(review_of(scene.machine, TODAY).facts.failed_results) == Result.objects.failures().count()

    def test_last_time_is_as_left(self, scene):
        left = repaired(scene)
        scene.sign()
        scene.again(at=SIGNED + timedelta(days=1))
        assert InspectionStep.objects.last_time(scene.step()).first() == left


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


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
@given(drawn_steps)
@example([(True, [said(trip="fail"), said(residual="pass")])])
@example([(True, [said(trip="pass"), said(is_not_tested=True)])])
def test_decisions_rest_on_the_last_set_and_on_failures_that_no_later_set_judged(db, drawn):
    """Database, Python and the rule by hand agree on what is untested, what decides, and what passes as left."""
    person, machine = make_person("technician"), make_machine()
    inspection = make_signed_inspection(machine, by=person, at=NOON)
    inspection.steps.all().delete()
    evaluated = write_sets(inspection, drawn)
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


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
@given(drawn_steps)
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
