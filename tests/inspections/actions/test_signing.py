import json
from datetime import date, timedelta
from threading import Barrier, Thread

import pytest
from django.db import connection

from fleet.actions import record_calibration
from fleet.models import Calibration
from inspections.actions import (
    amend_inspection,
    countersign_inspection,
    reasons_against_signing,
    set_not_tested,
    sign_inspection,
)
from inspections.errors import AlreadySigned, NotReadyToSign, RecordFrozen, Refused, StageRefused
from inspections.models import Amendment, Finding, Inspection, Reading, Result, SignedRecord
from inspections.records.content import digest_of
from tests.factories import NOON, make_procedure
from tests.inspections.scenes import FAILING, SHORT, enter, make_scene
from tests.services.programs import PATIENCE_S

LATER = NOON + timedelta(hours=1)


def test_signing_freezes_results_and_the_record(scene):
    scene.complete()
    inspection = scene.sign()
    assert (inspection.stage, inspection.signed_by, inspection.signed_at) == ("signed", scene.technician, LATER)
    trip = Result.objects.get(step=scene.step(), key="trip_pressure")
    assert (trip.decision, trip.unit) == ("pass", "psi")
    assert inspection.record.digest == digest_of(inspection.record.content)


def test_the_record_holds_readings_limits_instruments_conditions_and_version(scene):
    scene.complete()
    content = json.loads(scene.sign().record.content)
    assert content["procedure"]["digest"] == scene.inspection.version.digest
    # 620 m in the standard atmosphere of ISO 2533:1975: 94.09 kPa, worked from (1 - 2.25577e-5 h)^5.25588
    assert content["conditions"]["ambient_pa_abs"] == pytest.approx(
        101_325 * (1 - 2.25577e-5 * 620) ** 5.25588, rel=1e-4
    )
    step = content["steps"][0]
    assert ("45", "psi", "gauge") in [(one["as_read"], one["unit"], one["zero"]) for one in step["readings"]]
    limit = step["evaluation"]["outcomes"][0]["limit"]
    assert limit["rule"] and limit["source"]
    assert {one["code"] for one in content["instruments"]} == {scene.gauge.code, scene.flowmeter.code}
    assert content["steps"][2]["not_tested_reason"] == "No flowmeter of that range today."


def test_signing_twice_is_refused_and_leaves_the_first(scene):
    scene.complete()
    scene.sign()
    with pytest.raises(AlreadySigned, match="signed, its readings are locked. Plan a new one"):
        sign_inspection(Inspection.objects.get(pk=scene.inspection.pk), by=scene.other, at=LATER)
    assert SignedRecord.objects.count() == 1
    assert Inspection.objects.get(pk=scene.inspection.pk).signed_by == scene.technician


def test_every_reason_against_signing_is_named_and_nothing_is_kept_of_a_refused_signature(scene):
    scene.sweep()
    with pytest.raises(NotReadyToSign) as refused:
        scene.sign()
    reasons = " ".join(refused.value.reasons)
    assert "Oxygen supply alarm: still needed" in reasons
    assert "Oxygen flush: still needed" in reasons
    assert "Oxygen supply failure" not in reasons
    assert Inspection.objects.get(pk=scene.inspection.pk).stage == "on bench"
    assert not Result.objects.exists()


def test_an_inspection_with_nothing_tested_cannot_be_signed(scene):
    for step in scene.inspection.steps.all():
        set_not_tested(step, reason="Power cut.", by=scene.technician, at=NOON)
    assert reasons_against_signing(scene.inspection) == ["No step has been tested, so there is nothing to sign."]


def test_a_reading_that_cannot_be_stands_against_signing_with_its_sentence(scene):
    scene.complete()
    scene.enter("full_pressure", "500", unit="psi", instrument=scene.gauge)
    [reason] = reasons_against_signing(scene.inspection)
    assert "above the range of instrument" in reason
    assert "Check the unit" in reason


@pytest.mark.parametrize(
    ("calibrations", "sentence"),
    [
        ([], "has no calibration on or before 2 Nov 2026"),
        (
            [(date(2025, 1, 1), date(2026, 11, 1), "within")],
            "was out of calibration on 2 Nov 2026: it expired on 1 Nov 2026",
        ),
        (
            [(date(2026, 1, 1), date(2027, 1, 1), "outside")],
            "was out of specification at its calibration on 1 Jan 2026",
        ),
        ([(date(2025, 1, 1), date(2026, 11, 2), "within")], None),
        ([(date(2026, 11, 3), date(2027, 11, 3), "within")], "has no calibration on or before 2 Nov 2026"),
    ],
)
def test_an_instrument_out_of_calibration_on_the_day_cannot_be_signed_for(scene, calibrations, sentence):
    Calibration.objects.filter(instrument=scene.gauge).delete()
    for number, (done, due, result) in enumerate(calibrations):
        record_calibration(
            scene.gauge, calibrated_on=done, due_on=due, result=result, certificate=f"X{number}", by=None, at=NOON
        )
    scene.complete()
    reasons = reasons_against_signing(scene.inspection)
    assert reasons == ([f"Instrument {scene.gauge.code} {sentence}."] if sentence else [])


def test_the_record_names_the_calibration_in_force_when_the_reading_was_taken(scene):
    scene.complete()
    record_calibration(
        scene.gauge,
        calibrated_on=date(2026, 11, 4),
        due_on=date(2027, 11, 4),
        result="within",
        certificate="NEW",
        by=None,
        at=NOON,
    )
    record = scene.sign(at=NOON + timedelta(days=3)).record
    used = {one["code"]: one for one in json.loads(record.content)["instruments"]}
    assert used[scene.gauge.code]["calibrated_on"] == "2026-01-31"


def test_the_next_inspection_falls_due_the_interval_after_the_signature(scene):
    scene.complete()
    scene.sign()
    following = Inspection.objects.open().get(machine=scene.machine)
    assert following.due_on == date(2027, 11, 2)


def test_a_procedure_loaded_later_leaves_the_signed_record_alone(scene, tmp_path):
    scene.complete()
    content = scene.sign().record.content
    make_procedure(SHORT.replace("Short", "Longer"), directory=tmp_path)
    record = SignedRecord.objects.get(inspection=scene.inspection)
    assert record.content == content
    assert Inspection.objects.get(pk=scene.inspection.pk).version.number == 1


def test_a_record_and_an_amendment_cannot_be_saved_again(scene):
    scene.complete()
    record = scene.sign().record
    amendment = amend_inspection(scene.inspection, correction="a", reason="b", by=scene.technician, at=LATER)
    for row in (record, amendment):
        with pytest.raises(RecordFrozen):
            row.save()


def test_countersigning_is_for_another_person(scene):
    scene.complete()
    scene.sign()
    with pytest.raises(StageRefused, match="signed by you. Another person must countersign"):
        countersign_inspection(scene.inspection, by=scene.technician, at=LATER)
    countersign_inspection(scene.inspection, by=scene.other, at=LATER)
    assert (scene.inspection.stage, scene.inspection.countersigned_by) == ("countersigned", scene.other)


def test_countersigning_twice_and_before_signing_is_refused(scene):
    with pytest.raises(StageRefused, match="is in progress"):
        countersign_inspection(scene.inspection, by=scene.other, at=LATER)
    scene.complete()
    scene.sign()
    countersign_inspection(scene.inspection, by=scene.other, at=LATER)
    with pytest.raises(StageRefused, match="is countersigned"):
        countersign_inspection(scene.inspection, by=scene.other, at=LATER)


def test_an_amendment_needs_a_signed_record_a_correction_and_a_reason(scene):
    arguments = {"by": scene.technician, "at": LATER}
    with pytest.raises(RecordFrozen, match="Only a signed inspection can be amended"):
        amend_inspection(scene.inspection, correction="a", reason="b", **arguments)
    scene.complete()
    scene.sign()
    for correction, reason in ((" ", "b"), ("a", " ")):
        with pytest.raises(Refused, match="both a correction and a reason"):
            amend_inspection(scene.inspection, correction=correction, reason=reason, **arguments)
    amend_inspection(scene.inspection, correction="a", reason="b", step=scene.step(), **arguments)
    assert Amendment.objects.get().step == scene.step()


def test_a_failed_essential_result_opens_an_essential_finding(scene):
    scene.complete(FAILING)
    scene.sign()
    finding = Finding.objects.get()
    assert (finding.severity, finding.machine, finding.opened_by) == ("essential", scene.machine, scene.technician)
    assert finding.title == "Oxygen supply failure: nitrous oxide: trip pressure, fail"
    assert list(Finding.objects.awaiting_withdrawal()) == [finding]


def test_a_failed_result_of_another_step_opens_a_lesser_finding(scene):
    scene.complete(alarm="no")
    scene.sign()
    assert Finding.objects.get().severity == "other"


def test_a_passing_inspection_opens_no_finding(scene):
    scene.complete()
    scene.sign()
    assert not Finding.objects.exists()


def in_threads(*calls):
    """Run calls at the same moment, each on its own database connection; return what each raised or returned."""
    results, start = [None] * len(calls), Barrier(len(calls))

    def run(number, call):
        start.wait()
        try:
            results[number] = call()
        except Refused as error:
            results[number] = error
        finally:
            connection.close()

    threads = [Thread(target=run, args=pair) for pair in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=PATIENCE_S)
    return results


@pytest.mark.django_db(transaction=True)
def test_of_two_signatures_at_once_one_is_refused(transactional_db, tmp_path):
    scene = make_scene(tmp_path)
    scene.complete()
    pk = scene.inspection.pk
    results = in_threads(
        lambda: sign_inspection(Inspection.objects.get(pk=pk), by=scene.technician, at=LATER),
        lambda: sign_inspection(Inspection.objects.get(pk=pk), by=scene.other, at=LATER),
    )
    assert sorted(type(result).__name__ for result in results) == ["AlreadySigned", "Inspection"]
    assert SignedRecord.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_reading_that_races_a_signature_is_in_the_record_or_refused(transactional_db, tmp_path):
    scene = make_scene(tmp_path)
    scene.complete()
    pk, step = scene.inspection.pk, scene.step()
    signed, entered = in_threads(
        lambda: sign_inspection(Inspection.objects.get(pk=pk), by=scene.technician, at=LATER),
        lambda: enter(
            step, "set_flow", as_read="4.1", unit="L/min", instrument=scene.flowmeter, by=scene.other, at=LATER
        ),
    )
    assert isinstance(signed, Inspection)
    readings = json.loads(SignedRecord.objects.get().content)["steps"][0]["readings"]
    recorded = next(one["as_read"] for one in readings if one["field"] == "set_flow")
    assert recorded == Reading.objects.current().get(field="set_flow").as_read
    assert recorded == ("4.0" if isinstance(entered, RecordFrozen) else "4.1")


def test_a_measured_reading_without_an_instrument_cannot_be_signed_for(scene):
    scene.complete()
    scene.cell(0, "pressure", "40.0", unit="psi", instrument=None)
    with pytest.raises(NotReadyToSign, match="nitrous oxide: name the instrument that showed oxygen pressure"):
        scene.sign()
    assert not SignedRecord.objects.exists()
