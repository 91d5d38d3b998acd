"""The label: what it says, and that a reader opens the machine's page from it."""

from datetime import date
from io import BytesIO

import pytest
import segno
import zxingcpp
from pypdf import PdfReader
from pypdfium2 import PdfDocument

from inspections.bench import Decision
from inspections.reports.label import Label, write_label
from inspections.reports.sources import label_of, label_url
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
)

URL = "http://bobbin.example.org:8000/machines/1234567/"
LABEL = Label("OH-017", "Norrfell Three", URL, date(2026, 7, 22), "Yearly inspection", "pass", date(2027, 7, 22))


def picture(content, dots_per_inch=300):
    """Return the label as a label printer would set it."""
    return PdfDocument(content)[0].render(scale=dots_per_inch / 72).to_pil()


def words(content):
    return " ".join(PdfReader(BytesIO(content)).pages[0].extract_text().split())


@pytest.mark.parametrize("dots_per_inch", [203, 300])
def test_the_printed_code_is_read_as_the_address_of_the_machine(dots_per_inch):
    found = zxingcpp.read_barcodes(picture(write_label(LABEL), dots_per_inch))
    assert [code.text for code in found] == [URL]


def test_the_code_has_an_empty_border_of_four_modules_all_round():
    """Source: ISO/IEC 18004, quiet zone (from memory)."""
    image = picture(write_label(LABEL), 600).convert("L")
    code = image.crop((image.width // 2, 0, image.width, image.height)).point(lambda tone: 255 * (tone < 128))
    left, top, right, bottom = code.getbbox()
    module = (right - left) / segno.make(URL, error="m", micro=False).symbol_size(border=0)[0]
    assert min(left, top, code.width - right, code.height - bottom) >= 4 * module - 1


def test_the_label_is_62_by_29_mm_and_of_one_page():
    reader = PdfReader(BytesIO(write_label(LABEL)))
    box = reader.pages[0].mediabox
    assert len(reader.pages) == 1
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx((62, 29), abs=0.01)


def test_the_label_says_number_model_signature_decision_and_next_due():
    said = words(write_label(LABEL))
    for expected in (
        "OH-017",
        "Norrfell Three",
        "Signed 22 Jul 2026: pass",
        "Yearly inspection",
        "Next due 22 Jul 2027",
    ):
        assert expected in said


def test_a_machine_never_inspected_and_withdrawn_says_both():
    said = words(write_label(Label("OH-018", "Norrfell Three", URL, status="withdrawn")))
    assert "Not inspected yet" in said and "Withdrawn" in said and "No inspection planned" in said


def test_a_very_long_number_and_model_stay_beside_the_code():
    label = Label("A" * 40, "Model " * 20, URL, date(2026, 7, 22), "Procedure " * 9, "conditional fail", TODAY)
    assert zxingcpp.read_barcodes(picture(write_label(label)))[0].text == URL


def test_the_label_of_a_machine_tells_its_last_signature_worst_decision_and_next_due(db):
    machine, person = make_machine(), make_person("technician")
    results = [bench_result(), bench_result(24.9, decision=Decision.CONDITIONAL_FAIL, key="other")]
    make_signed_inspection(machine, by=person, at=NOON, steps=[{"code": "a", "results": results}])
    make_inspection(machine, by=person, due_on=date(2027, 11, 2))
    url = label_url(machine, base_url="https://bobbin.example.org", by=person, at=NOON)
    label = label_of(machine, url=url)
    assert label.url == f"https://bobbin.example.org/machines/{machine.pk}/"
    assert (label.last_signed, label.summary, label.next_due) == (TODAY, "conditional fail", date(2027, 11, 2))


def test_the_page_sends_the_label_to_those_who_may_see_the_machine(client, db, other_site_person):
    machine = make_machine()
    client.force_login(make_person("auditor"))
    response = client.get(f"/machines/{machine.pk}/label.pdf")
    assert response.status_code == 200 and response.content.startswith(b"%PDF")
    client.force_login(other_site_person)
    assert client.get(f"/machines/{machine.pk}/label.pdf").status_code == 404
    client.force_login(make_person())
    assert client.get(f"/machines/{machine.pk}/label.pdf").status_code == 403


RESULTS = ["pass", "incomplete", "pass, limit not confirmed", "conditional fail, limit not confirmed"]


@pytest.mark.parametrize("summary", RESULTS)
@pytest.mark.parametrize("status", ["in service", "withdrawn"])
def test_no_result_is_cut_short_and_the_caution_is_there(summary, status):
    label = Label("OH-017", "Norrfell Three", URL, date(2026, 9, 22), "Yearly inspection", summary, None, status)
    said = words(write_label(label))
    assert summary in said
    assert "For qualified personnel." in said
    assert "The manufacturer's instructions, local codes and licensed practice come first." in said
