"""A paper from memory is the paper that would be printed now, or it is printed anew."""

from datetime import timedelta

import pytest

from inspections.actions import amend_inspection
from inspections.models import SignedRecord
from inspections.reports import record_again
from inspections.reports.record import NotSigned, write_record
from inspections.reports.record_again import Papers, record_paper
from inspections.reports.sources import for_record
from tests.factories import NOON

LATER = NOON + timedelta(days=1)


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


@pytest.fixture
def printed(monkeypatch):
    """The inspections that were printed, each time that one was."""
    found = []

    def counted(inspection, amendments):
        found.append(inspection.pk)
        return write_record(inspection, amendments)

    monkeypatch.setattr(record_again, "PAPERS", Papers(1_000_000))
    monkeypatch.setattr(record_again, "write_record", counted)
    return found


def paper_of(inspection):
    found = for_record(type(inspection).objects.all()).get(pk=inspection.pk)
    amendments = list(found.amendments.select_related("by", "step"))
    paper = record_paper(found, amendments)
    assert paper == write_record(found, amendments)
    return paper


def test_the_second_paper_of_a_record_is_the_first_and_is_not_printed(signed, printed):
    assert paper_of(signed) == paper_of(signed)
    assert printed == [signed.pk]


def test_an_amendment_prints_the_paper_anew(scene, signed, printed):
    before = paper_of(signed)
    amend_inspection(signed, correction="The gauge was G-2.", reason="Mistyped.", by=scene.technician, at=LATER)
    assert paper_of(signed) != before
    assert printed == [signed.pk] * 2


def test_a_record_altered_in_the_store_is_printed_as_it_is_now(signed, printed):
    before = paper_of(signed)
    stored = SignedRecord.objects.filter(inspection=signed.pk)
    stored.update(content=stored.get().content.replace("Short inspection", "Other inspection"))
    assert paper_of(signed) != before
    assert printed == [signed.pk] * 2


def test_before_the_signature_there_is_no_paper(scene, printed):
    with pytest.raises(NotSigned):
        record_paper(scene.inspection, [])


def test_papers_beyond_the_most_bytes_leave_from_the_one_asked_for_longest_ago():
    papers = Papers(most_bytes=25)
    papers.keep("a", b"x" * 10)
    papers.keep("b", b"x" * 10)
    assert papers.find("a")
    papers.keep("c", b"x" * 10)
    assert [papers.find(key) is not None for key in "abc"] == [True, False, True]
    papers.keep("large", b"x" * 26)
    assert papers.find("large") is None and papers.find("c") is None
