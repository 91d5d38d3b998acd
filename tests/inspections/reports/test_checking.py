"""A printed record is held against the store: as it stands, added to since, altered, or no record at all."""

from datetime import timedelta
from io import BytesIO, StringIO

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader, PdfWriter

from fleet.models import Person
from inspections.actions import amend_inspection, countersign_inspection
from inspections.models import ChainEntry, Reading
from inspections.reports.checking import Verdict, check_paper
from inspections.reports.record import write_record
from inspections.reports.sources import for_record
from tests.factories import NOON

LATER = NOON + timedelta(hours=3)


def paper(inspection):
    inspection = for_record(type(inspection).objects).get(pk=inspection.pk)
    return write_record(inspection, list(inspection.amendments.select_related("by", "step")))


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


def rewritten(content, **information):
    """The PDF as another program would save it, with other properties where asked."""
    writer = PdfWriter(clone_from=BytesIO(content))
    writer.add_metadata({f"/{name}": value for name, value in information.items()})
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def test_a_paper_as_it_stands_is_genuine_and_shows_entry_and_digests(signed):
    printed = paper(signed)
    found = check_paper(printed)
    assert (found.verdict, found.inspection) == (Verdict.GENUINE, signed)
    words = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(printed)).pages[:2]).split())
    entry = ChainEntry.objects.get()
    assert f"Entry 1 of the chain of {entry.site}, SHA-256: {entry.digest}" in words
    assert "The entry before it: no entry." in words


def test_a_paper_from_before_an_amendment_is_superseded_and_names_what_was_added(scene, signed):
    printed = paper(signed)
    countersign_inspection(signed, by=scene.other, at=LATER)
    amend_inspection(signed, correction="24 °C.", reason="Wrong room", by=scene.other, at=LATER)
    found = check_paper(printed)
    assert found.verdict == Verdict.SUPERSEDED
    assert [entry.kind for entry in found.since] == ["countersigned", "amended"]
    assert check_paper(paper(signed)).verdict == Verdict.GENUINE


def test_a_paper_stays_genuine_when_a_person_is_renamed(scene, signed):
    countersign_inspection(signed, by=scene.other, at=LATER)
    amend_inspection(signed, correction="24 °C.", reason="Wrong room", by=scene.other, at=LATER)
    printed = paper(signed)
    Person.objects.filter(pk=scene.other.pk).update(last_name="Costa")
    assert check_paper(printed).verdict == Verdict.GENUINE


def test_a_file_saved_by_another_program_has_the_same_words(signed):
    assert check_paper(rewritten(paper(signed))).verdict == Verdict.SAVED_AGAIN


def test_a_word_changed_on_the_paper_is_told_with_what_the_store_holds(scene, signed):
    entry = ChainEntry.objects.get()
    amend_inspection(signed, correction="Row 2 reads 34 psi.", reason="Misread", by=scene.other, at=LATER)
    other = PdfReader(BytesIO(paper(signed))).metadata["/Keywords"].replace("newest=2", f"newest={entry.sequence}")
    found = check_paper(rewritten(paper(signed), Keywords=other))
    assert found.verdict == Verdict.ALTERED
    assert any("Row 2 reads 34 psi." in given and "Row 2" not in stored for stored, given in found.differences)


def test_a_paper_of_another_version_of_the_layout_says_so(scene, signed):
    keywords = PdfReader(BytesIO(paper(signed))).metadata["/Keywords"]
    amend_inspection(signed, correction="24 °C.", reason="Wrong room", by=scene.other, at=LATER)
    found = check_paper(rewritten(paper(signed), Keywords=keywords[:-12] + "0" * 12))
    assert found.verdict == Verdict.OTHER_LAYOUT and found.differences


def test_a_record_that_the_store_does_not_hold_is_told(signed):
    keywords = PdfReader(BytesIO(paper(signed))).metadata["/Keywords"]
    assert check_paper(rewritten(paper(signed), Keywords=keywords.replace("entry=1", "entry=7"))).verdict == (
        Verdict.NOT_IN_STORE
    )


def test_an_altered_store_does_not_vouch_for_a_paper(signed):
    printed = paper(signed)
    Reading.objects.filter(as_read="45").update(as_read="46")
    found = check_paper(printed)
    assert found.verdict == Verdict.STORE_ALTERED and found.troubles[0].field == "as_read"


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\n%%EOF", b"PK\x03\x04", b"\x00" * 100])
def test_what_is_no_record_is_told_so(db, content):
    assert check_paper(content).verdict == Verdict.NO_RECORD


def test_the_command_tells_by_its_exit_code(scene, signed, tmp_path):
    file, out = tmp_path / "record.pdf", StringIO()
    file.write_bytes(paper(signed))
    call_command("check_pdf", str(file), stdout=out)
    assert "genuine" in out.getvalue()
    countersign_inspection(signed, by=scene.other, at=LATER)
    for path, code in ((file, 3), (tmp_path / "none.pdf", 2)):
        with pytest.raises(CommandError) as refused:
            call_command("check_pdf", str(path), stdout=out)
        assert refused.value.returncode == code
    assert "Countersignature of 2026-11-02 15:00, entry 2" in out.getvalue()
