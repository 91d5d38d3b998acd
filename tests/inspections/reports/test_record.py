"""The record of an inspection on paper: all that was signed, from what was signed, and what came after it."""

from datetime import timedelta

import pytest
from pypdf import PdfReader

from fleet.models import Machine
from inspections.actions import amend_inspection, countersign_inspection
from inspections.models import NotTestedMark, SignedRecord
from inspections.reports.record import NotSigned, write_record
from tests.factories import CALIBRATED_UNTIL, NOON
from tests.inspections.scenes import FAILING


def paper(inspection):
    inspection.refresh_from_db()
    return write_record(inspection, list(inspection.amendments.select_related("by", "step")))


@pytest.fixture
def signed(scene):
    scene.complete(FAILING)
    return scene.sign()


def test_identity_procedure_and_conditions_are_on_the_first_page(scene, signed, words_of):
    first = words_of(paper(signed))[0]
    for expected in (
        scene.machine.asset_number,
        str(scene.machine.model),
        "Short inspection, version 1",
        scene.machine.site.name,
        "94.1 kPa absolute",  # standard atmosphere at 620 m: 94.09 kPa. Source: US Standard Atmosphere 1976
        "20.0 °C",
    ):
        assert expected in first


def test_readings_stand_as_read_with_unit_zero_and_instrument(scene, signed, words_of):
    words = " ".join(words_of(paper(signed)))
    assert f"50 psi gauge {scene.gauge.code}" in words
    assert "1 45 psi gauge 4.0 L/min" in words


def test_results_stand_with_uncertainty_limit_source_edition_decision_margin_and_probability(signed, words_of):
    words = " ".join(words_of(paper(signed)))
    trip = next(o for o in signed.steps.get(code="supply-failure").results.all() if o.limit_rule and o.decision)
    assert "39.00 ± 0.99" in words  # half flow between 40 and 38 psi: 95.45 % of half of that, and the gauge
    assert "psi (k = " in words
    assert trip.limit_source in words and "edition" in words
    assert "fail" in words and "above the limit" in words and "probability of conformity" in words


def test_a_step_not_tested_and_one_that_does_not_apply_say_why(scene, words_of):
    scene.complete()
    words = " ".join(words_of(paper(scene.sign())))
    assert "Not tested" in words and "No flowmeter of that range today." in words
    assert "Marked by" in words and "Ana Ferro, 2 Nov 2026, 12:00 (WET)" in words


def test_a_record_from_before_marks_had_an_author_is_printed_without_that_column(scene, words_of):
    scene.complete()
    NotTestedMark.objects.all().delete()
    words = " ".join(words_of(paper(scene.sign())))
    assert "No flowmeter of that range today." in words and "Marked by" not in words


def test_instruments_are_shown_as_calibrated_on_the_day(scene, signed, words_of):
    scene.gauge.calibrations.update(certificate="changed later")
    words = " ".join(words_of(paper(signed)))
    assert scene.gauge.code in words and f"31 Jan 2026 31 Jan {CALIBRATED_UNTIL.year}" in words
    assert "changed later" not in words


def test_the_paper_is_made_from_what_was_signed_not_from_the_register(scene, signed, words_of):
    before = paper(signed)
    Machine.objects.filter(pk=scene.machine.pk).update(asset_number="RENAMED", serial="OTHER")
    signed.machine.refresh_from_db()
    assert paper(signed) == before
    assert "RENAMED" not in " ".join(words_of(before))


def test_signatures_are_told_in_the_time_of_the_site_with_the_digest(scene, signed, words_of):
    countersign_inspection(signed, by=scene.other, at=NOON + timedelta(hours=2))
    words = " ".join(words_of(paper(signed)))
    assert "Signed Ana Ferro 2 Nov 2026, 13:00 (WET)" in words
    assert "Countersigned Rui Serra 2 Nov 2026, 14:00 (WET)" in words
    assert signed.record.digest in words


def test_a_summer_signature_is_told_in_summer_time(scene, words_of):
    at = NOON.replace(month=7)
    scene.gauge.calibrations.update(calibrated_on=at.date(), due_on=NOON.date())
    scene.again(at=at)
    scene.complete(at=at)
    words = " ".join(words_of(paper(scene.sign(at=at))))
    assert "2 Jul 2026, 13:00 (WEST)" in words


def test_an_amendment_stands_beside_its_step_and_at_the_end_with_who_when_and_why(scene, signed, words_of):
    amend_inspection(
        signed, correction="Row 2 reads 41 psi.", reason="Misread", by=scene.other, at=NOON, step=scene.step()
    )
    amend_inspection(signed, correction="The room was 24 °C.", reason="Wrong thermometer", by=scene.other, at=NOON)
    words = " ".join(words_of(paper(signed)))
    assert "This record has 2 amendments, shown below." in words
    assert words.count("Row 2 reads 41 psi.") == 2 and words.count("The room was 24 °C.") == 1
    assert "By Rui Serra, 2 Nov 2026, 12:00 (WET)" in words
    assert "Row 2" not in signed.record.content


def test_every_page_has_its_number_and_the_cautions_are_there(signed, words_of):
    pages = words_of(paper(signed))
    assert all(f"Page {number} of {len(pages)}" in words for number, words in enumerate(pages, start=1))
    assert "does not replace the checks before each use" in pages[0]


def test_a_record_whose_content_was_altered_says_so(signed, words_of):
    record = signed.record
    SignedRecord.objects.filter(pk=record.pk).update(content=record.content.replace("Ana Ferro", "Eva Ferro"))
    words = " ".join(words_of(paper(type(signed).objects.get(pk=signed.pk))))
    assert "does not match the digest that was signed" in words


def test_an_inspection_that_is_not_signed_has_no_paper(scene):
    with pytest.raises(NotSigned, match="in progress: its record exists only after the signature"):
        write_record(scene.inspection, [])


def test_a_long_name_wraps_and_loses_nothing(scene, words_of, tmp_path):
    scene.machine.site.name = "Hospital of the " + "very " * 15 + "long name"
    scene.machine.site.save()
    scene.complete()
    words = " ".join(words_of(paper(scene.sign())))
    assert scene.machine.site.name in words


def test_the_file_is_titled_and_authored_by_the_signer(signed, tmp_path):
    target = tmp_path / "record.pdf"
    target.write_bytes(paper(signed))
    metadata = PdfReader(target).metadata
    assert (metadata.title, metadata.author) == ("Inspection record", "Ana Ferro")


@pytest.fixture
def url(scene):
    return f"/inspections/{scene.inspection.pk}/record.pdf"


def test_the_page_sends_the_paper(client, scene, signed, url):
    client.force_login(scene.technician)
    response = client.get(url)
    assert response.status_code == 200 and response.content.startswith(b"%PDF")
    assert response["Content-Disposition"].startswith('inline; filename="record-')


def test_before_the_signature_a_page_says_what_to_do(client, scene, url):
    client.force_login(scene.technician)
    response = client.get(url)
    assert response.status_code == 409
    assert "Sign it first" in response.content.decode()


def test_another_site_and_a_person_without_permission_get_nothing(client, scene, signed, url, other_site_person):
    client.force_login(other_site_person)
    assert client.get(url).status_code == 404
    scene.technician.groups.clear()
    client.force_login(type(scene.technician).objects.get(pk=scene.technician.pk))
    assert client.get(url).status_code == 403
    assert client.post(url).status_code in (403, 405)
