"""A signed record stays as signed; beside it stands what the rules of today would decide."""

from dataclasses import replace

import pytest

from inspections.bench import Decision, decide
from inspections.models import Result, SignedRecord
from inspections.records.reevaluation import decided_otherwise
from tests.factories import make_person


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


def page_of(client, inspection):
    client.force_login(make_person("auditor"))
    return client.get(inspection.get_absolute_url()).content.decode()


def test_a_record_that_today_would_decide_alike_says_nothing_of_it(client, signed):
    assert decided_otherwise(signed) == []
    assert "By the rules of today" not in page_of(client, signed)


def test_what_today_would_decide_otherwise_stands_beside_the_record(client, signed, monkeypatch):
    """A rule of later: a bracket of 2 psi about the trip is too wide."""
    before = SignedRecord.objects.values().get()
    monkeypatch.setattr("inspections.bench.judging.decide", stricter)
    assert {(one.signed, one.now) for one in decided_otherwise(signed)} == {("pass", "fail")}
    page = page_of(client, signed)
    assert "By the rules of today" in page and "trip pressure" in page.lower()
    assert SignedRecord.objects.values().get() == before
    assert set(Result.objects.exclude(decision="").values_list("decision", flat=True)) == {"pass"}


def stricter(value, std, limit, **more):
    return replace(decide(value, std, limit, **more), decision=Decision.FAIL)
