from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import clear_reading, open_inspection, plan_inspection
from inspections.errors import ProcedureError, ReadingRefused, RecordFrozen, StageRefused
from inspections.models import Inspection, Procedure, Reading
from tests.factories import NOON, TODAY, make_model
from tests.inspections.scenes import SHORT, enter, make_scene

LATER = NOON + timedelta(minutes=5)


def standing(step, field):
    return [str(reading) for reading in Reading.objects.current().filter(step=step, field=field)]


def test_opening_fixes_the_version_and_lays_out_the_steps(scene):
    inspection = scene.inspection
    assert (inspection.stage, inspection.opened_by) == ("on bench", scene.technician)
    assert inspection.version == scene.procedure.current_version()
    assert [step.code for step in inspection.steps.all()] == ["supply-failure", "alarm", "flush"]


def test_opening_twice_is_refused_and_adds_no_steps(scene):
    with pytest.raises(StageRefused, match="is in progress"):
        open_inspection(scene.inspection, by=scene.other, at=LATER)
    assert scene.inspection.steps.count() == 3


def test_opening_without_a_loaded_version_says_what_to_run(scene):
    empty = Procedure.objects.create(code="empty", title="Never loaded")
    inspection = plan_inspection(scene.machine, empty, due_on=TODAY, by=None, at=NOON)
    with pytest.raises(ProcedureError, match="load_procedures"):
        open_inspection(inspection, by=scene.technician, at=NOON)
    assert Inspection.objects.get(pk=inspection.pk).stage == "planned"


def test_a_booked_technician_stays_when_another_opens_the_bench(scene):
    inspection = plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=None, at=NOON)
    Inspection.objects.filter(pk=inspection.pk).update(stage="booked", technician=scene.other, booked_on=TODAY)
    inspection = Inspection.objects.get(pk=inspection.pk)
    open_inspection(inspection, by=scene.technician, at=NOON, ambient_kpa_abs=94.2, temperature_c=22)
    assert (inspection.technician, inspection.opened_by) == (scene.other, scene.technician)
    assert (inspection.ambient_pa_abs, inspection.temperature_c) == (94_200, 22)


def test_a_reading_is_kept_as_it_was_read(scene):
    kept = scene.enter("full_pressure", " 50.0 ", unit="psi", instrument=scene.gauge)
    kept.refresh_from_db()
    assert (kept.as_read, kept.unit, kept.zero) == ("50.0", "psi", "gauge")
    assert (kept.instrument, kept.entered_by, kept.entered_at) == (scene.gauge, scene.technician, NOON)


def test_a_correction_supersedes_and_keeps_what_stood_before(scene):
    scene.enter("full_pressure", "50", unit="psi")
    enter(scene.step(), "full_pressure", as_read="345", unit="kPa", by=scene.other, at=LATER)
    first, second = Reading.objects.filter(step=scene.step()).order_by("pk")
    assert (first.as_read, first.superseded_at, first.superseded_by) == ("50", LATER, scene.other)
    assert (second.as_read, second.unit, second.superseded_at) == ("345", "kPa", None)


def test_the_same_reading_sent_again_is_not_kept_twice(scene):
    once = scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
    again = scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge, at=LATER)
    assert once == again
    assert Reading.objects.count() == 1


def test_clearing_takes_a_reading_back_and_keeps_it_in_the_history(scene):
    scene.enter("full_pressure", "50", unit="psi")
    clear_reading(scene.step(), "full_pressure", by=scene.technician, at=LATER)
    assert standing(scene.step(), "full_pressure") == []
    assert Reading.objects.get().superseded_at == LATER


@pytest.mark.parametrize("text", ["", "abc", "4,500.1", "1e3", "nan", "inf", "--4", "4.5 psi", "1" * 21, "٤"])
def test_a_text_that_is_no_number_is_refused(scene, text):
    with pytest.raises(ReadingRefused, match="not a number|too many digits|read in two ways") as refused:
        scene.enter("full_pressure", text, unit="psi")
    assert refused.value.slot == ("full_pressure", 0, "")
    assert not Reading.objects.exists()


def test_a_unit_that_the_field_does_not_take_is_refused_by_name(scene):
    accepted = "takes psi or kPa or bar or mmHg or cmH2O or mbar or hPa"
    with pytest.raises(ReadingRefused, match=f"{accepted}; got the unit “L/min”"):
        scene.enter("full_pressure", "50", unit="L/min")


@pytest.mark.parametrize(
    ("field", "row", "column"),
    [
        ("nothing", 0, ""),
        ("full_pressure", 3, ""),
        ("falling", 0, "nothing"),
        ("falling", 60, "flow"),
        ("falling", 0, ""),
    ],
)
def test_a_place_that_the_test_does_not_declare_is_refused(scene, field, row, column):
    with pytest.raises(ReadingRefused):
        scene.enter(field, "1", unit="L/min", row=row, column=column)


def test_an_observation_is_yes_or_no(scene):
    assert scene.enter("seen", "yes", code="alarm").unit == "yes/no"
    with pytest.raises(ReadingRefused, match="takes one of: yes, no; got “perhaps”"):
        scene.enter("seen", "perhaps", code="alarm")


def test_what_the_procedure_chose_is_not_open_to_the_bench(scene):
    with pytest.raises(ReadingRefused, match="no place"):
        scene.enter("wanted", "no", code="alarm")


def test_a_choice_that_is_open_is_kept_without_a_unit(scene):
    assert scene.enter("kind", "proportional", unit="psi").unit == ""


@pytest.mark.parametrize("change", ["enter", "clear", "not tested"])
def test_readings_of_a_signed_inspection_are_locked(scene, change):
    scene.complete()
    scene.sign()
    with pytest.raises(RecordFrozen, match="signed: its readings are locked"):
        match change:
            case "enter":
                scene.enter("full_pressure", "51", unit="psi")
            case "clear":
                clear_reading(scene.step(), "full_pressure", by=scene.technician, at=LATER)
            case "not tested":
                scene.leave_untested("supply-failure", "Too late")
    assert standing(scene.step(), "full_pressure") == ["50 psi"]


def test_a_reading_saved_past_the_actions_is_locked_too(scene):
    kept = scene.enter("full_pressure", "50", unit="psi")
    scene.complete()
    scene.sign()
    kept = Reading.objects.get(pk=kept.pk)
    kept.as_read = "60"
    with pytest.raises(RecordFrozen):
        kept.save()


def test_a_step_is_left_untested_with_its_reason_and_taken_up_again(scene):
    scene.leave_untested("flush", "  No flowmeter.  ")
    assert scene.step("flush").not_tested_reason == "No flowmeter."
    scene.leave_untested("flush", "")
    assert scene.step("flush").not_tested_reason == ""


PLACES = [
    ("full_pressure", 0, ""),
    ("set_flow", 0, ""),
    *[("falling", row, c) for row in range(3) for c in ("pressure", "flow")],
]
ENTRIES = st.lists(st.tuples(st.sampled_from(PLACES), st.one_of(st.none(), st.integers(0, 60))), max_size=25)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(entries=ENTRIES)
def test_the_last_acknowledged_entry_of_every_place_stands_and_nothing_is_lost(scene, entries):
    """Whatever is entered, corrected and cleared in whatever order: what stands is what was acknowledged last."""
    Reading.objects.all().delete()
    step, person = scene.step(), scene.technician
    expected, acknowledged = {}, set()
    for number, ((field, row, column), value) in enumerate(entries):
        at = NOON + timedelta(seconds=number)
        if value is None:
            clear_reading(step, field, row=row, column=column, by=person, at=at)
            expected.pop((field, row, column), None)
            continue
        unit = "L/min" if "flow" in (field.removeprefix("set_"), column) else "psi"
        kept = enter(step, field, row=row, column=column, as_read=str(value), unit=unit, by=person, at=at)
        expected[field, row, column] = str(value)
        acknowledged.add(kept.pk)
    assert {r.slot: r.as_read for r in Reading.objects.current().filter(step=step)} == expected
    assert set(Reading.objects.filter(step=step).values_list("pk", flat=True)) == acknowledged


def test_another_machine_without_the_gas_keeps_the_step_with_the_reason(db, tmp_path):
    scene = make_scene(tmp_path, text=SHORT, model=make_model(gases=["oxygen", "air"]))
    step = scene.step()
    assert (step.applies, step.absence) == (False, "The machine does not give nitrous oxide.")
