"""Readings of an inspection are corrected by the certificate of their day, and the record freezes by which."""

import json
from datetime import timedelta

import pytest

from fleet.actions import enter_calibration_points
from fleet.calibration.points import Point, ScalePoints
from fleet.models import Calibration, Instrument
from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.last_results import LastResults
from inspections.bench import to_si
from inspections.models import Reading
from inspections.records.reevaluation import differences
from tests.factories import NOON, TODAY, make_person

OFFSET = 6.9  # kPa, about 1 psi


def points(scale, error, *readings, **fields):
    return ScalePoints(scale.pk, "kPa", tuple(Point(one - error, one, 0.2, **fields) for one in readings))


def give_points(instrument, calibration=None, error=OFFSET, readings=(0, 100, 500, 1000), **fields):
    calibration = calibration or instrument.calibrations.first()
    scale = instrument.scales.get(dimension="pressure")
    enter_calibration_points(calibration, points(scale, error, *readings, **fields), by=None, at=NOON)
    return calibration


def correct(instrument, is_on=True):
    Instrument.objects.filter(pk=instrument.pk).update(applies_corrections=is_on)
    return instrument


def evaluated(scene):
    return Evaluator(scene.inspection).evaluate(scene.step()).evaluation


def trip(scene):
    return evaluated(scene).result("trip_pressure")


def test_points_change_nothing_until_the_instrument_s_readings_are_to_be_corrected(scene):
    scene.complete()
    before = repr(evaluated(scene))
    give_points(scene.gauge)
    assert repr(evaluated(scene)) == before
    correct(scene.flowmeter)  # which has no points
    assert repr(evaluated(scene)) == before


def test_readings_are_corrected_and_stay_as_typed(scene):
    scene.complete()
    before = trip(scene)
    give_points(correct(scene.gauge))
    after = trip(scene)
    assert after.value_si == pytest.approx(before.value_si - OFFSET * 1000)
    assert any(one.startswith("Corrected by certificate") for one in evaluated(scene).remarks)
    assert set(Reading.objects.filter(column="pressure", field="falling").values_list("as_read", flat=True)) == {
        "45", "35", "26", "24", "20",
    }  # fmt: skip


def test_as_found_points_alone_correct_nothing(scene):
    scene.complete()
    before = trip(scene).value_si
    give_points(correct(scene.gauge), condition="found")
    assert trip(scene).value_si == before


def test_each_reading_is_corrected_by_the_certificate_of_its_day(scene):
    """A calibration between two days of one step: what was read before keeps the older correction."""
    scene.complete()
    older = give_points(correct(scene.gauge))
    newer = Calibration.objects.create(
        instrument=scene.gauge, calibrated_on=TODAY, due_on=TODAY + timedelta(days=300), certificate="NEW"
    )
    give_points(scene.gauge, newer, error=0)
    assert [one for one in evaluated(scene).remarks if "NEW" in one] != []
    Reading.objects.filter(field="falling").update(entered_at=NOON - timedelta(days=2))
    remarks = [one for one in evaluated(scene).remarks if one.startswith("Corrected")]
    assert any(older.certificate in one for one in remarks) and any("NEW" in one for one in remarks)


def test_the_stored_summary_of_a_step_follows_its_correction(scene):
    scene.complete()
    readings = list(Reading.objects.current().filter(step=scene.step()).select_related("instrument"))
    digest = LastResults(Evaluator(scene.inspection))._digest(scene.step(), readings)
    give_points(correct(scene.gauge))
    assert LastResults(Evaluator(scene.inspection))._digest(scene.step(), readings) not in ("", digest)


def test_drift_between_two_calibrations_widens_what_the_correction_leaves_uncertain(scene):
    scene.complete()
    give_points(correct(scene.gauge))
    before = trip(scene).std_uncertainty_si
    earlier = Calibration.objects.create(
        instrument=scene.gauge, calibrated_on=TODAY - timedelta(days=700), due_on=TODAY - timedelta(days=300),
        certificate="OLD",
    )  # fmt: skip
    scale = scene.gauge.scales.get(dimension="pressure")
    left = tuple(Point(one - OFFSET, one - 3, 0.2) for one in (0, 100, 500, 1000))  # 3 kPa less at the same references
    enter_calibration_points(earlier, ScalePoints(scale.pk, "kPa", left), by=None, at=NOON)
    assert trip(scene).std_uncertainty_si > before


@pytest.fixture
def signed(scene):
    scene.complete()
    give_points(correct(scene.gauge))
    return scene.sign()


def test_the_record_freezes_the_correction_and_is_decided_by_it_ever_after(scene, signed):
    entry = next(one for one in json.loads(signed.record.content)["instruments"] if one["code"] == scene.gauge.code)
    frozen = entry["corrections"][0]
    assert (frozen["dimension"], frozen["unit"], frozen["high"]) == ("pressure", "kPa", 1000)
    assert frozen["errors_si"] == pytest.approx([to_si(OFFSET, "kPa")] * 4)
    assert differences(signed) == []
    correct(scene.gauge, is_on=False)
    give_points(scene.gauge, error=300)
    assert differences(signed) == []


def test_the_page_of_the_record_says_that_readings_were_corrected(client, signed):
    client.force_login(make_person("auditor"))
    assert "readings corrected by it" in client.get(signed.get_absolute_url()).content.decode()


def test_a_record_without_corrections_is_not_corrected_later(scene):
    scene.complete()
    signed = scene.sign()
    assert "corrections" not in signed.record.content
    give_points(correct(scene.gauge))
    assert differences(signed) == []


def test_corrections_cost_one_query_and_only_where_an_instrument_asks_for_them(scene, django_assert_num_queries):
    scene.complete()
    give_points(scene.gauge)
    with django_assert_num_queries(4):
        Evaluator(scene.inspection)
    correct(scene.gauge)
    with django_assert_num_queries(5):
        Evaluator(scene.inspection)
