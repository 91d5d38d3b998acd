"""The first two pages of a record, and the annex behind them."""

import json

import pytest

from fleet.canonical import canonical_json, digest_of
from inspections.models import SignedRecord
from inspections.reports.record import write_record
from tests.inspections.scenes import FAILING, PASSING


@pytest.fixture
def front_of(words_of):
    """front_of(signed, change): the words of the pages before the annex, of a record whose content was changed so."""

    def front_of(signed, change=lambda content: None):
        content = json.loads(signed.record.content)
        change(content)
        text = canonical_json(content)
        signed.record = SignedRecord(inspection=signed, content=text, digest=digest_of(text))
        pages = words_of(write_record(signed, []))
        start = next(number for number, words in enumerate(pages) if "Annex: every reading" in words)
        return pages[:start], pages[start:]

    return front_of


def repeated(times):
    def change(content):
        tested = [step for step in content["steps"] if "evaluation" in step]
        content["steps"] = [
            {**step, "title": f"{step['title']} {number}"} for number in range(times) for step in tested
        ]

    return change


@pytest.mark.parametrize("times", [1, 16])
def test_the_front_takes_two_pages_however_many_results_passed(scene, front_of, times):
    scene.complete(PASSING)
    front, annex = front_of(scene.sign(), repeated(times))
    assert len(front) <= 2
    words = " ".join(front)
    assert "Signatures" in words and "does not replace the checks before each use" in words
    results = " ".join(annex).count("Trip pressure")
    assert results >= times  # nothing is left out of the annex


@pytest.mark.parametrize("times", [1, 16])
def test_no_result_that_is_not_a_plain_pass_is_left_to_the_annex(scene, front_of, times):
    scene.complete(FAILING)
    front, _ = front_of(scene.sign(), repeated(times))
    words = " ".join(front)
    for number in range(times):
        assert f"Oxygen supply failure {number}: nitrous oxide" in words
    table = words.split("Results that decide")[1].split("Signatures")[0]
    assert table.count(" fail") >= times


def test_what_is_no_plain_pass_comes_first(scene, front_of):
    scene.complete(FAILING)
    front, _ = front_of(scene.sign())
    table = " ".join(front).split("opens a finding with the signature")[1]
    assert table.index(" fail") < table.index(" pass")


def test_replaced_components_are_on_the_front_with_both_identities(scene, front_of):
    scene.complete()

    def change(content):
        content["steps"][0]["replaced"] = [
            {
                "label": "Oxygen regulator", "kind": "pressure-regulator", "by": {"username": "a", "name": "Ana Ferro"},
                "at": "2026-11-02T12:00:00+00:00", "removed": {"serial": "R-1", "lot": "", "part_number": ""},
                "fitted": {"serial": "R-2", "lot": "L-9", "part_number": "P 7"},
            }
        ]  # fmt: skip

    words = " ".join(front_of(scene.sign(), change)[0])
    assert "Components replaced" in words
    assert "Oxygen regulator serial R-1 serial R-2, lot L-9, part number P 7 Ana Ferro" in words
