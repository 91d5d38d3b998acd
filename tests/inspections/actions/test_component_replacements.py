"""A component replaced during an inspection changes the gas circuit with the signature, and calls for its tests."""

from datetime import timedelta
from io import BytesIO

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from fleet.actions import replace_component, take_out_component
from fleet.circuits.machine_circuit import circuit_in_place
from fleet.models import CircuitChange, Component
from inspections.actions import (
    begin_all_called_for,
    begin_as_left,
    change_replacement,
    record_replacement,
    set_not_tested,
    sign_inspection,
    withdraw_replacement,
)
from inspections.actions.signing import draft_signature
from inspections.at_bench.evaluated_steps import EvaluatedSteps
from inspections.at_bench.repairs import Repair, to_be_tested_again
from inspections.chain.verification import verify_inspection
from inspections.errors import GroundsChanged, NotReadyToSign, RecordFrozen, Refused
from inspections.models import Finding, InspectionStep, Reading, Replacement
from inspections.records.signed_record import ShownRecord
from tests.factories import NOON, TODAY, make_component, make_model, make_procedure
from tests.fleet.circuit_texts import SMALL
from tests.inspections.actions.test_as_left import sweep
from tests.inspections.scenes import FAILING, SHORT, enter, make_scene

VALVE = "supply-failure-valve"
TEXT = SHORT.replace('gas = "nitrous-oxide"', f'gas = "nitrous-oxide"\nrepeat_after = ["{VALVE}"]').replace(
    'item = "The alarm sounds."', f'item = "The alarm sounds."\nrepeat_after = ["{VALVE}"]'
)
EARLY, LATER = NOON - timedelta(hours=1), NOON + timedelta(minutes=30)
FITTED = {"serial": "CV-2", "lot": "L-7", "part_number": "44-100"}


@pytest.fixture
def scene(db, tmp_path):
    """A machine with the circuit of its model, whose procedure repeats two of three steps after work on the valve."""
    return make_scene(tmp_path, text=TEXT, at=EARLY, model=make_model(circuit=SMALL))


def replaced(scene, code="cut-off-valve", *, step="supply-failure", at=NOON, **details):
    return record_replacement(scene.step(step), code, by=scene.technician, at=at, **{**FITTED, **details})


def valve(scene):
    return Component.objects.get(machine=scene.machine, code="cut-off-valve", removed_on=None)


def after_the_work(scene):
    """Test everything after the component was replaced, as nobody had tested it before."""
    scene.complete(at=LATER)


class TestEntering:
    def test_it_keeps_both_plates_and_changes_no_circuit_yet(self, scene):
        entry = replaced(scene, removed={"serial": "CV-1"}, note="Seat worn")
        assert (entry.removed_words, entry.fitted_words) == ("serial CV-1", "serial CV-2, lot L-7, part number 44-100")
        assert (entry.done_at, entry.kind, entry.gas) == (NOON, VALVE, "nitrous-oxide")
        assert not CircuitChange.objects.exists()

    def test_a_new_one_without_a_part_number_has_that_of_the_removed_one(self, scene):
        make_component(scene.machine, kind=VALVE, label="Cut-off valve", gas="nitrous-oxide", part_number="44-100",
                       serial="CV-1")  # fmt: skip
        entry = replaced(scene, part_number="")
        assert (entry.fitted_part_number, entry.removed_part_number, entry.removed_serial) == (
            "44-100",
            "44-100",
            "CV-1",
        )

    def test_what_is_not_in_place_is_refused(self, scene):
        with pytest.raises(Refused, match="no component “absorber” in place"):
            replaced(scene, "absorber")

    def test_one_component_is_entered_once(self, scene):
        replaced(scene)
        with pytest.raises(Refused, match="already entered as replaced"):
            replaced(scene, step="alarm")

    def test_an_entry_can_be_corrected_and_withdrawn_until_the_signature(self, scene):
        entry = replaced(scene)
        change_replacement(entry, serial="CV-3", note="The one of the kit", by=scene.other, at=NOON)
        assert (entry.fitted_serial, entry.note) == ("CV-3", "The one of the kit")
        withdraw_replacement(entry, by=scene.other, at=NOON)
        assert not Replacement.objects.in_force().exists() and entry.withdrawn_by == scene.other
        with pytest.raises(Refused, match="already withdrawn"):
            change_replacement(entry, serial="CV-4", by=scene.other, at=NOON)
        after_the_work(scene)
        scene.sign()
        assert not CircuitChange.objects.exists()

    def test_a_signed_inspection_takes_none(self, scene):
        after_the_work(scene)
        scene.sign()
        with pytest.raises(RecordFrozen):
            replaced(scene)

    def test_steps_of_other_procedures_that_the_work_calls_for_are_added_and_withdrawn_with_it(self, scene, tmp_path):
        (tmp_path / "other").mkdir()
        other = TEXT.replace('code = "yearly"', 'code = "other"').replace("The alarm sounds.", "The whistle sounds.")
        make_procedure(other, directory=tmp_path / "other")
        entry = replaced(scene)
        [added] = scene.inspection.steps.exclude(code__in=("supply-failure", "alarm", "flush"))
        assert (
            added.content["item"] == "The whistle sounds."
            and "Cut-off valve replaced" in added.content["repeated_because"]
        )
        after_the_work(scene)
        with pytest.raises(NotReadyToSign, match="still needed: an answer"):
            scene.sign()
        withdraw_replacement(entry, by=scene.technician, at=LATER)
        assert not InspectionStep.objects.filter(pk=added.pk).exists()

    def test_an_added_step_that_was_tested_stays_after_the_withdrawal(self, scene, tmp_path):
        (tmp_path / "other").mkdir()
        other = TEXT.replace('code = "yearly"', 'code = "other"').replace("The alarm sounds.", "The whistle sounds.")
        make_procedure(other, directory=tmp_path / "other")
        entry = replaced(scene)
        added = scene.inspection.steps.last()
        enter(added, "seen", as_read="yes", by=scene.technician, at=LATER)
        withdraw_replacement(entry, by=scene.technician, at=LATER)
        assert InspectionStep.objects.filter(pk=added.pk).exists()


class TestSigning:
    def test_the_signature_replaces_it_in_the_circuit_by_the_signer(self, scene):
        entry = replaced(scene)
        after_the_work(scene)
        sign_inspection(scene.inspection, by=scene.other, at=LATER + timedelta(hours=1))
        change = CircuitChange.objects.get(verb="replaced")
        new = valve(scene)
        entry.refresh_from_db()
        assert (change.by, change.recorded_at, change.changed_on) == (scene.other, LATER + timedelta(hours=1), TODAY)
        assert str(scene.inspection) in change.evidence
        assert (new.serial, new.lot, new.part_number, new.fitted_in) == ("CV-2", "L-7", "44-100", change)
        assert entry.fitted == new
        assert "cut-off-valve" in {one.code for one in circuit_in_place(scene.machine, TODAY).components}

    def test_the_record_and_its_chain_hold_it(self, scene):
        replaced(scene, removed={"serial": "CV-1"})
        after_the_work(scene)
        record = ShownRecord(scene.sign(at=LATER + timedelta(hours=1)).record)
        step = next(step for step in record.tested if step.content["code"] == "supply-failure")
        [told] = step.content["replaced"]
        assert (told["removed"]["serial"], told["fitted"]["serial"], told["kind"]) == ("CV-1", "CV-2", VALVE)
        assert "Removed: serial CV-1; fitted: serial CV-2, lot L-7, part number 44-100." in step.repairs[0]
        assert list(verify_inspection(scene.inspection)) == []
        Replacement.objects.update(fitted_serial="CV-9")
        assert [one.field for one in verify_inspection(scene.inspection)] == ["fitted_serial"]

    @pytest.mark.parametrize("step", ["supply-failure", "alarm", "flush"], ids=["measured", "checked", "not tested"])
    def test_page_and_paper_say_it_whatever_kind_of_step_it_was_entered_at(self, scene, client, step):
        replaced(scene, step=step)
        after_the_work(scene)
        inspection = scene.sign(at=LATER + timedelta(hours=1))
        client.force_login(scene.technician)
        page = client.get(inspection.get_absolute_url()).text
        paper = client.get(f"/inspections/{inspection.pk}/record.pdf").getvalue()
        words = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages).split())
        for text in (page, words):
            assert "Component replaced: Cut-off valve" in text and "serial CV-2" in text

    def test_a_replacement_that_the_page_did_not_show_is_not_signed(self, scene):
        after_the_work(scene)
        shown = draft_signature(scene.inspection, by=scene.technician, at=LATER).grounds
        replaced(scene, at=EARLY)
        with pytest.raises(GroundsChanged):
            sign_inspection(scene.inspection, by=scene.technician, at=LATER, shown=shown)

    @pytest.mark.parametrize("is_recorded", [False, True])
    @pytest.mark.parametrize("change", [take_out_component, replace_component])
    def test_one_that_was_changed_meanwhile_is_refused_with_what_to_do(self, scene, change, is_recorded):
        if is_recorded:
            replace_component(scene.machine, "vaporizer", on=TODAY, by=scene.other, at=NOON)
        replaced(scene)
        how = {"removed_on": TODAY, "bridge": True} if change is take_out_component else {"on": TODAY}
        change(scene.machine, "cut-off-valve", by=scene.other, at=LATER, **how)
        changes = CircuitChange.objects.count()
        after_the_work(scene)
        with pytest.raises(NotReadyToSign, match="Cut-off valve cannot be replaced on machine .* Withdraw that entry"):
            scene.sign(at=LATER + timedelta(hours=1))
        assert CircuitChange.objects.count() == changes and scene.inspection.is_in_progress
        withdraw_replacement(Replacement.objects.get(), by=scene.technician, at=LATER)
        scene.sign(at=LATER + timedelta(hours=1))

    def test_a_refusal_of_the_circuit_leaves_nothing(self, scene):
        Component.objects.create(machine=scene.machine, kind=VALVE, label="Cut-off valve", gas="nitrous-oxide",
                                 fitted_on=TODAY)  # fmt: skip
        replaced(scene, at=NOON)
        Component.objects.update(fitted_on=TODAY + timedelta(days=1))
        after_the_work(scene)
        with pytest.raises(NotReadyToSign, match="cannot be replaced in the gas circuit: .* was fitted on"):
            scene.sign(at=LATER + timedelta(hours=1))
        scene.inspection.refresh_from_db()
        assert scene.inspection.is_in_progress and not CircuitChange.objects.exists()

    def test_a_set_that_tested_the_new_one_names_it(self, scene):
        old = make_component(scene.machine, kind=VALVE, label="Cut-off valve", gas="nitrous-oxide", serial="CV-1")
        InspectionStep.objects.filter(pk=scene.step().pk).update(component=old)
        scene.complete(FAILING, at=EARLY)
        replaced(scene)
        [left, alarm] = begin_all_called_for(scene.inspection, by=scene.technician, at=NOON)
        sweep(scene, left, at=LATER)
        enter(alarm, "seen", as_read="yes", by=scene.technician, at=LATER)
        record = ShownRecord(scene.sign(at=LATER + timedelta(hours=1)).record)
        left.refresh_from_db()
        assert (scene.step().component, left.component) == (old, valve(scene))
        found, again = (one.content["component"] for one in record.tested if one.content["test"] == "supply-failure")
        assert (found["serial"], again["serial"]) == ("CV-1", "CV-2")


class TestWhatTheWorkCallsFor:
    def test_what_was_tested_before_the_work_must_be_tested_again(self, scene):
        scene.complete(at=EARLY)
        replaced(scene)
        with pytest.raises(NotReadyToSign) as refused:
            scene.sign()
        assert [reason.partition(": tested before")[0] for reason in refused.value.reasons] == [
            str(scene.step()), str(scene.step("alarm")),
        ]  # fmt: skip

    def test_one_press_begins_all_of_them(self, scene):
        scene.complete(at=EARLY)
        replaced(scene)
        begun = begin_all_called_for(scene.inspection, by=scene.technician, at=NOON)
        assert [(one.test_code, one.work_done) for one in begun] == [
            ("supply-failure", "After this work: Cut-off valve replaced."),
            ("observation", "After this work: Cut-off valve replaced."),
        ]
        assert begin_all_called_for(scene.inspection, by=scene.technician, at=NOON) == []

    def test_one_left_untested_with_its_reason_is_incomplete_and_opens_a_finding(self, scene):
        scene.complete(at=EARLY)
        replaced(scene)
        for step in begin_all_called_for(scene.inspection, by=scene.technician, at=NOON):
            set_not_tested(step, reason="No oxygen left", by=scene.technician, at=NOON)
        inspection = scene.sign()
        assert inspection.is_incomplete and "pass" not in inspection.result_words
        assert Finding.objects.of_untested().get().step.state == "as left"

    def test_what_is_tested_only_after_the_work_needs_no_second_set(self, scene):
        replaced(scene, at=EARLY)
        after_the_work(scene)
        scene.sign()
        assert not InspectionStep.objects.exclude(as_left_of=None).exists()

    def test_work_entered_in_a_set_as_left_was_done_before_that_set(self, scene):
        scene.complete(FAILING, at=EARLY)
        left = begin_as_left(scene.step(), work_done="Valve replaced", by=scene.technician, at=NOON)
        sweep(scene, left, at=LATER)
        entry = record_replacement(
            left, "cut-off-valve", by=scene.technician, at=LATER + timedelta(minutes=5), **FITTED
        )
        assert entry.done_at == NOON
        with pytest.raises(NotReadyToSign) as refused:
            scene.sign()
        assert len(refused.value.reasons) == 1 and str(scene.step("alarm")) in refused.value.reasons[0]


minutes = st.integers(0, 5)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=60
)
@given(
    read=st.lists(st.tuples(minutes, st.sampled_from(["", "no time"]), st.booleans()), max_size=4),
    works=st.lists(st.tuples(minutes, st.sampled_from([VALVE, "absorber"])), max_size=3),
)
def test_a_step_is_called_for_exactly_if_its_oldest_reading_is_older_than_the_work(read, works):
    """Any mixture of steps read at some minute, and works at some minute: the rule by hand gives the same steps."""
    steps, readings = [], {}
    for number, (minute, reason, is_called) in enumerate(read, start=1):
        content = {"repeat_after": [VALVE]} if is_called else {}
        step = InspectionStep(pk=number, title=f"Step {number}", content=content, not_tested_reason=reason)
        steps.append(step)
        readings[step.pk] = [Reading(entered_at=NOON + timedelta(minutes=minute + late)) for late in (0, 9)]
    repairs = [Repair(kind, "", f"{kind} replaced", NOON + timedelta(minutes=minute)) for minute, kind in works]
    again = to_be_tested_again(EvaluatedSteps(steps, readings, {}), repairs)
    newest = max((minute for minute, kind in works if kind == VALVE), default=-1)
    assert {step.pk for step in again} == {
        number
        for number, (minute, reason, is_called) in enumerate(read, start=1)
        if is_called and not reason and minute < newest
    }
