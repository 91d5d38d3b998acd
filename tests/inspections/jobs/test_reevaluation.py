"""Signed records recalculated: what would differ is listed, and nothing is changed."""

import csv
import io
from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.at_bench.step_content import test_of as bench_test_of
from inspections.bench import Decision, get_test
from inspections.jobs.reevaluation import request_reevaluation
from inspections.models import SignedRecord
from inspections.records.reevaluation import differences
from tests.factories import NOON, make_person, make_site

URL = reverse("inspections:reevaluation")


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


@pytest.fixture
def stricter(monkeypatch):
    """The supply failure test of a later version: it shifts every value and fails what it judges."""
    test = get_test("supply-failure")

    def evaluate(sheet, context):
        evaluation = test.evaluate(sheet, context)
        results = [
            replace(one, value_si=one.value_si and one.value_si * 1.01, decision=one.decision and Decision.FAIL)
            for one in evaluation.results
        ]
        return replace(evaluation, results=tuple(results))

    monkeypatch.setattr("inspections.at_bench.evaluation.test_of", lambda step: replace(test, evaluate=evaluate)
                        if step.test_code == test.code else bench_test_of(step))  # fmt: skip


def rows_of(job):
    run_waiting_job(job.pk, clock=lambda: NOON + timedelta(days=1), pulse=False)
    job.refresh_from_db()
    assert job.stage == "done", job.error
    return list(csv.DictReader(io.StringIO(job.file.read().decode("utf-8-sig"))))


def test_a_record_computed_with_the_same_program_agrees_to_the_last_digit(signed):
    assert differences(signed) == []


def test_what_a_later_program_would_judge_otherwise_is_listed_and_no_record_changes(scene, signed, stricter):
    before = SignedRecord.objects.values().get()
    job = request_reevaluation(by=scene.technician, at=NOON)
    rows = rows_of(job)
    decisions = [row for row in rows if row["differs_in"] == "decision"]
    assert decisions and all((row["as_signed_si"], row["today_si"]) == ("pass", "fail") for row in decisions)
    assert {row["inspection"] for row in rows} == {str(signed.pk)}
    assert "value" in {row["differs_in"] for row in rows}
    assert job.result.startswith("1 record recalculated; 1 would differ, 1 of them in a decision. No record was")
    assert SignedRecord.objects.values().get() == before


def test_agreement_is_said_in_words(scene, signed):
    job = request_reevaluation(by=scene.technician, at=NOON)
    assert rows_of(job) == []
    assert job.result == "1 record recalculated; all agree with the signed values."


def test_the_rated_value_of_an_instrument_entered_since_shows_as_a_difference(scene, signed):
    scene.gauge.scales.filter(dimension="pressure").update(of_reading_percent=5)
    found = {(one.what, one.result) for one in differences(signed)}
    assert any(what == "expanded uncertainty" for what, _ in found)


def test_the_page_says_how_many_and_asks(scene, signed, client):
    client.force_login(make_person("auditor"))
    assert "Recalculate 1 record" in client.get(URL).content.decode()
    assert client.post(URL)["Location"] == Job.objects.get().get_absolute_url()
    client.force_login(make_person("auditor", sites=[make_site()]))
    assert "Nothing is signed yet" in client.get(URL).content.decode()
    client.force_login(make_person())
    assert client.post(URL).status_code == 403
