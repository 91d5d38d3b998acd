"""The units of an inspection: chosen at its start or at the bench, remembered, and frozen by the signature."""

import json
from datetime import timedelta

import pytest

from fleet.changes import changes_of
from inspections.actions import choose_units, open_inspection, plan_inspection, void_inspection
from inspections.chain.verification import verify_store
from inspections.errors import RecordFrozen, StageRefused
from inspections.models import BenchUnits, Inspection, Result
from tests.factories import NOON, TODAY

LATER = NOON + timedelta(minutes=5)


def start(scene, units):
    planned = plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=scene.technician, at=NOON)
    open_inspection(planned, by=scene.technician, at=NOON, units=units)
    return planned


def choose(scene, **units):
    given = {code.replace("_", " "): symbol for code, symbol in units.items()}
    choose_units(scene.inspection, given, by=scene.technician, at=LATER)


def test_an_inspection_starts_with_the_units_chosen_and_the_person_is_remembered_for_them(scene):
    started = start(scene, {"pressure": "bar", "flow": ""})
    assert Inspection.objects.get(pk=started.pk).units == {"pressure": "bar"}
    assert scene.technician.bench_units.units == {"pressure": "bar", "flow": ""}


def test_an_inspection_started_by_a_program_has_no_units_and_leaves_what_is_remembered(scene):
    start(scene, {"pressure": "bar"})
    assert start(scene, None).units == {}
    assert scene.technician.bench_units.units == {"pressure": "bar"}


def test_a_choice_at_the_bench_leaves_the_others_and_is_in_the_history(scene):
    choose(scene, pressure="kPa", airway_pressure="mbar")
    choose(scene, pressure="psi")
    assert Inspection.objects.get(pk=scene.inspection.pk).units == {"pressure": "psi", "airway pressure": "mbar"}
    choose(scene, pressure="")
    assert Inspection.objects.get(pk=scene.inspection.pk).units == {"airway pressure": "mbar"}
    entry = changes_of("inspection", scene.inspection.pk).first()
    assert (entry.by, entry.at, list(entry.after)) == (scene.technician, LATER, ["Units"])


@pytest.mark.parametrize("units", [{"pressure": "L/min"}, {"pressure": "stone"}, {"speed": "m/s"}])
def test_what_is_no_unit_of_its_dimension_is_refused(scene, units):
    with pytest.raises(StageRefused, match="Accepted"):
        choose_units(scene.inspection, units, by=scene.technician, at=LATER)
    with pytest.raises(StageRefused, match="Accepted"):
        start(scene, units)
    assert not BenchUnits.objects.exists()


def test_units_of_an_inspection_that_is_not_in_progress_stay(scene):
    void_inspection(scene.inspection, reason="Twice", by=scene.technician, at=LATER, although_in_progress=True)
    with pytest.raises(RecordFrozen):
        choose(scene, pressure="bar")


def test_a_signature_freezes_the_units_with_every_result_in_them(scene):
    choose(scene, pressure="bar", flow="mL/min")
    scene.complete()
    content = json.loads(scene.sign().record.content)
    assert content["units"] == {"pressure": "bar", "flow": "mL/min"}
    units = {one["unit"] for step in content["steps"] for one in step.get("evaluation", {}).get("outcomes", ())}
    assert units == {"bar", "mL/min", "%", "yes/no"}
    shown = Result.objects.get(key="trip_pressure").shown
    assert shown.full_value.endswith(" bar") and "psi)" in shown.limit


def test_a_unit_changed_after_the_signature_breaks_the_proof(scene):
    choose(scene, pressure="bar")
    scene.complete()
    scene.sign()
    assert list(verify_store()) == []
    Inspection.objects.filter(pk=scene.inspection.pk).update(units={"pressure": "kPa"})
    assert [(one.kind, one.field) for one in verify_store()] == [("altered", "units")]


def test_a_record_without_chosen_units_holds_nothing_of_them(scene):
    scene.complete()
    text = scene.sign().record.content
    assert "units" not in json.loads(text) and "unit_chosen" not in text and "units_chosen" not in text
