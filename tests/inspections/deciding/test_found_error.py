"""Signed results that rest on an instrument found in error, decided again with the error put in."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.actions import enter_calibration_points
from fleet.calibration.points import Point, ScalePoints
from fleet.jobs.running import run_waiting_job
from fleet.models import Calibration, Instrument, Job
from inspections.deciding.found_error import found_error, inspections_on, loaded, readings_on, suspected
from inspections.models import Reading, Result, SignedRecord
from tests.factories import NOON, TODAY, make_person, make_site

FOUND_ON = TODAY + timedelta(days=30)
PSI = 6.894757  # kPa


def found_at(gauge, error_kpa, *, on=FOUND_ON, readings=(0, 200, 400), result="outside", condition="found"):
    """A calibration at which the gauge read too high by so much."""
    calibration = Calibration.objects.create(
        instrument=gauge, calibrated_on=on, due_on=on + timedelta(days=365), result=result, certificate=f"F-{on}"
    )
    points = tuple(Point(one - error_kpa, one, 0.2, condition=condition) for one in readings)
    scale = gauge.scales.get(dimension="pressure")
    enter_calibration_points(calibration, ScalePoints(scale.pk, "kPa", points), by=None, at=NOON)
    return calibration


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


def traced(calibration, person=None):
    error = found_error(calibration)
    chosen = list(inspections_on(error, person or make_person("auditor")).values_list("pk", flat=True))
    return [one for inspection in loaded(chosen) for one in suspected(inspection, error)]


def test_a_result_that_the_error_would_turn_is_listed_and_no_row_is_changed(scene, signed):
    """The trip lay between 24 and 26 psi, the rule is 20 to 30: 6 psi too high, it was at 19."""
    before = list(SignedRecord.objects.values()), list(Result.objects.order_by("pk").values())
    found = {one.label: one for one in traced(found_at(scene.gauge, 6 * PSI))}
    trip = next(one for label, one in found.items() if "trip" in label.lower())
    assert trip.was.startswith("pass") and "fail" in trip.would_be
    assert trip.value_was.startswith("25") and trip.value_would_be.startswith("19")
    assert (list(SignedRecord.objects.values()), list(Result.objects.order_by("pk").values())) == before


def test_an_error_within_the_accuracy_changes_nothing(scene, signed):
    assert traced(found_at(scene.gauge, 0.1)) == []


def test_no_error_found_gives_the_decisions_of_the_record(scene, signed):
    assert traced(found_at(scene.gauge, 0.0)) == []


def test_what_a_newer_program_would_decide_otherwise_is_no_finding_of_the_instrument(scene, signed):
    Result.objects.filter(key="trip_pressure").update(decision="conditional pass")
    assert traced(found_at(scene.gauge, 0.0)) == []


def test_only_readings_since_the_last_good_calibration_are_in_doubt(scene, signed):
    """A good calibration after the readings, before the bad one, clears them; a bad one does not."""
    calibration = found_at(scene.gauge, 6 * PSI)
    assert readings_on(found_error(calibration)).count() == 10
    between = {"calibrated_on": TODAY + timedelta(days=1), "due_on": FOUND_ON, "instrument": scene.gauge}
    bad = Calibration.objects.create(certificate="BAD", result="outside", **between)
    assert readings_on(found_error(calibration)).count() == 10
    bad.delete()
    Calibration.objects.create(certificate="GOOD", result="within", **between)
    assert traced(calibration) == [] and readings_on(found_error(calibration)).count() == 0


def test_readings_after_the_calibration_do_not_rest_on_it(scene, signed):
    assert traced(found_at(scene.gauge, 6 * PSI, on=TODAY)) == []


def test_of_one_inspection_only_the_readings_before_the_calibration_are_put_right(scene, signed):
    error = found_error(found_at(scene.gauge, 6 * PSI))
    own = Reading.objects.filter(instrument=scene.gauge)
    own.filter(field="falling").update(entered_at=NOON + timedelta(days=40))
    assert {one.field for one in own if error.holds(one)} == {"full_pressure", "rising"}


def test_other_instruments_readings_stay_as_they_are(scene, signed):
    other = scene.flowmeter
    assert traced(found_at(other, 6 * PSI)) == []


def test_records_of_other_sites_are_neither_counted_nor_listed(scene, signed):
    calibration = found_at(scene.gauge, 6 * PSI)
    assert traced(calibration, make_person("auditor", sites=[make_site()])) == []


def test_beyond_the_points_the_error_counts_as_a_share_of_the_reading(scene, signed):
    """Points at 50 and 100 kPa, 25 % too high: a trip of 25 psi (172 kPa) was at 18.8."""
    calibration = found_at(scene.gauge, 0, readings=())
    points = tuple(Point(one * 0.75, one, 0.2, condition="found") for one in (50, 100))
    scale = scene.gauge.scales.get(dimension="pressure")
    enter_calibration_points(calibration, ScalePoints(scale.pk, "kPa", points), by=None, at=NOON)
    trip = next(one for one in traced(calibration) if "trip" in one.label.lower())
    assert trip.value_would_be.startswith("18.")


def test_readings_that_were_corrected_get_the_found_error_in_place_of_their_correction(scene):
    """As left 6 psi too high and corrected at the signature; found 6 psi too high again: nothing changes."""
    first = scene.gauge.calibrations.get()
    points = tuple(Point(one - 6 * PSI, one, 0.2) for one in (0, 200, 400))
    scale = scene.gauge.scales.get(dimension="pressure")
    enter_calibration_points(first, ScalePoints(scale.pk, "kPa", points), by=None, at=NOON)
    Instrument.objects.filter(pk=scene.gauge.pk).update(applies_corrections=True)
    scene.gauge.scales.filter(pk=scale.pk).update(of_reading_percent=20)  # by which alone nothing could be decided
    scene.complete(rows=[("49", "4.0"), ("41", "4.0"), ("32", "3.6"), ("30", "0.4"), ("26", "0.0")])
    scene.sign()
    changed = {one.label for one in traced(found_at(scene.gauge, 6 * PSI))}
    assert not any("trip pressure" in label.lower() for label in changed)


def url_of(calibration):
    return reverse("inspections:found_error", args=[calibration.pk])


def test_the_page_lists_machine_record_and_both_decisions(client, scene, signed):
    client.force_login(make_person("auditor"))
    calibration = found_at(scene.gauge, 6 * PSI)
    assert url_of(calibration) in client.get(calibration.get_absolute_url()).content.decode()
    page = client.get(url_of(calibration)).content.decode()
    for words in ("10 readings in 1 signed record", "All were decided again", str(scene.machine), "fail", "pass"):
        assert words in page


def test_the_page_says_how_many_older_records_it_left_out(client, scene, signed, monkeypatch):
    monkeypatch.setattr("inspections.views.found_error.MOST_ON_A_PAGE", 0)
    client.force_login(make_person("auditor"))
    assert "the 1 older were not" in client.get(url_of(found_at(scene.gauge, 6 * PSI))).content.decode()


def test_without_points_the_page_says_what_is_missing(client, scene, signed):
    client.force_login(make_person("auditor"))
    page = client.get(url_of(scene.gauge.calibrations.get())).content.decode()
    assert "at least two as-found points" in page


def test_a_background_job_lists_every_change_as_csv(client, scene, signed):
    client.force_login(make_person("planner"))
    answer = client.post(url_of(found_at(scene.gauge, 6 * PSI)))
    job = Job.objects.get()
    assert answer.headers["Location"] == job.get_absolute_url()
    run_waiting_job(job.pk, clock=lambda: NOON + timedelta(days=1), pulse=False)
    job.refresh_from_db()
    assert job.stage == "done", job.error
    rows = list(csv.DictReader(io.StringIO(job.file.read().decode("utf-8-sig"))))
    assert {row["asset_number"] for row in rows} == {scene.machine.asset_number}
    assert any(row["on_record"].startswith("pass") and "fail" in row["with_found_error"] for row in rows)


def test_an_inspection_costs_the_same_queries_whatever_it_holds(scene, signed, django_assert_max_num_queries):
    error = found_error(found_at(scene.gauge, 6 * PSI))
    chosen = list(inspections_on(error, make_person("auditor")).values_list("pk", flat=True))
    with django_assert_max_num_queries(20):
        [suspected(inspection, error) for inspection in loaded(chosen)]
