"""A repaired step is tested again as left: what failed as found is kept, and decisions rest on the last set."""

import json
import re
from datetime import timedelta

import pytest

from fleet.actions import withdraw_machine
from inspections.actions import (
    begin_as_left,
    close_finding,
    release_machine,
    set_not_tested,
    undo_as_left,
)
from inspections.deciding.release import reasons_against_release
from inspections.errors import NotReadyToSign, RecordFrozen, Refused, StageRefused
from inspections.models import Finding, InspectionStep, Result
from inspections.on_machine_page.latest_results import machine_results
from inspections.on_machine_page.measured_values import measured_values
from inspections.records.signed_record import ShownRecord
from inspections.retirement.gathering import review_of
from tests.factories import NOON, TODAY, make_model
from tests.fleet.circuit_texts import SMALL
from tests.inspections.scenes import FAILING, PASSING, enter, make_scene

LATER = NOON + timedelta(minutes=30)
SIGNED = NOON + timedelta(hours=1)


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

    def test_a_trend_goes_from_as_found_to_as_left(self, scene):
        scene.complete()
        scene.sign()
        scene.again(at=SIGNED + timedelta(days=1))
        scene.complete(FAILING, at=SIGNED + timedelta(days=1))
        sweep(scene, as_left(scene, at=SIGNED + timedelta(days=1)), at=SIGNED + timedelta(days=1))
        scene.sign(at=SIGNED + timedelta(days=2))
        history = next(one for one in machine_results(scene.machine) if one.latest.key == "trip_pressure")
        values = [one.value for one in (history.latest, *history.earlier)]
        assert history.was_repaired and values[0] == values[2] < values[1]
        first, found, left = (float(one) for one in re.findall(r"([0-9.]+) ± [0-9.]+ psi on", history.trend)[:3])
        assert first == left < found

    @pytest.mark.parametrize("is_tested", [True, False])
    def test_the_circuit_counts_with_the_value_as_left_and_with_the_failure_until_there_is_one(
        self, db, tmp_path, is_tested
    ):
        scene = make_scene(tmp_path, model=make_model(circuit=SMALL))
        scene.complete(FAILING)
        left = as_left(scene)
        if is_tested:
            sweep(scene, left)
        else:
            set_not_tested(left, reason="No oxygen left", by=scene.technician, at=LATER)
        scene.sign()
        [measured] = (one for (_, key), one in measured_values([scene.machine])[scene.machine.pk].items()
                      if key == "cut_pressure")  # fmt: skip
        assert measured.decision == ("pass" if is_tested else "fail")

    def test_last_time_is_as_left(self, scene):
        left = repaired(scene)
        scene.sign()
        scene.again(at=SIGNED + timedelta(days=1))
        assert InspectionStep.objects.last_time(scene.step()).first() == left
