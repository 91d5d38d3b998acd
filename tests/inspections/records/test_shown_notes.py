"""What was noted at a step is in the signed content, on its page and on its paper, and nothing of it where none was."""

import json
import re
from base64 import a85decode
from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from inspections.actions import add_photograph, clear_reading, remove_photograph, sign_inspection, write_remark
from inspections.models import Photograph
from inspections.reports.checking import Verdict, check_paper
from inspections.reports.record import write_record
from inspections.reports.sources import for_record
from tests.factories import NOON, PASSWORD
from tests.fleet.photographs.pictures import clean_picture

AT_TWO = NOON + timedelta(hours=2)


def content_of(signed):
    return {step["code"]: step for step in json.loads(signed.record.content)["steps"]}


@pytest.fixture
def noted(scene):
    """Signed, with a remark and photographs at a measured step, a check and a step that was not tested."""
    scene.complete()
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter, by=scene.other, at=NOON)
    scene.cell(1, "pressure", "34", unit="psi", instrument=scene.gauge)
    scene.enter("seen", "no", code="alarm")
    scene.enter("seen", "yes", code="alarm", by=scene.other)
    who = {"by": scene.technician, "at": NOON}
    write_remark(scene.step(), "The valve <sticks>.\nCleaned.", **who)
    for code, width in (("supply-failure", 96), ("alarm", 80), ("flush", 64)):
        add_photograph(scene.step(code), clean_picture(width), caption=f"Seen at {code}", **who)
    removed = add_photograph(scene.step(), clean_picture(72), caption="By mistake", **who)
    remove_photograph(removed, **who)
    scene.inspection.refresh_from_db()
    sign_inspection(scene.inspection, by=scene.technician, at=AT_TWO, minutes=95)
    return scene.inspection


def paper_of(signed):
    found = for_record(type(signed).objects).get(pk=signed.pk)
    return write_record(found, [])


def pictures_on(paper):
    """The JPEG files in a paper, byte for byte."""
    images = [image for page in PdfReader(BytesIO(paper)).pages for image in page.images]
    streams = [image.indirect_reference.get_object()._data for image in images]
    return {a85decode(stream.strip().removesuffix(b"~>")) for stream in streams}


def words_on(paper):
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(paper)).pages)


def test_the_content_holds_what_was_noted(scene, noted):
    steps = content_of(noted)
    ana = {"username": scene.technician.username, "name": "Ana Ferro"}
    assert steps["supply-failure"]["remark"] == {
        "text": "The valve <sticks>.\nCleaned.", "by": ana, "at": NOON.isoformat(),
    }  # fmt: skip
    clean = clean_picture()
    assert steps["supply-failure"]["photographs"] == [
        {"digest": clean.digest, "preview": clean.preview_digest, "caption": "Seen at supply-failure", "by": ana,
         "at": NOON.isoformat(), "width": 96, "height": 64, "octets": clean.octets},
    ]  # fmt: skip
    assert "remark" not in steps["flush"] and len(steps["flush"]["photographs"]) == 1
    assert json.loads(noted.record.content)["minutes"] == 95
    corrected = {(c["field"], c["row"], c["as_read"], c["replaced_by"]["name"]) for c in
                 steps["supply-failure"]["corrections"]}  # fmt: skip
    assert corrected == {("set_flow", 0, "4.0", "Rui Serra"), ("falling", 1, "35", "Ana Ferro")}


def test_a_record_without_notes_has_none_of_the_keys(scene):
    scene.complete()
    content = scene.sign().record.content
    assert not any(f'"{key}":' in content for key in ("photographs", "corrections", "minutes", "preview"))
    assert "remark" not in content_of(scene.inspection)["supply-failure"]


def test_the_page_shows_it(scene, noted, client):
    client.force_login(scene.other)
    page = client.get(noted.get_absolute_url()).text
    assert "The valve &lt;sticks&gt;.<br>Cleaned." in page
    for photograph in Photograph.objects.in_place():
        assert f'src="{photograph.preview_url}" alt="{photograph.caption}"' in page
    assert "By mistake" not in page and "95 minutes" in page
    assert '<del class="was">4.0 L/min, ' in page and "corrected by Rui Serra, 2 Nov 2026, 12:00" in page
    assert page.count('<del class="was">') == 4


def test_the_paper_shows_it_and_is_checked_byte_for_byte(scene, noted):
    paper = paper_of(noted)
    words = words_on(paper)
    for said in ("The valve <sticks>. Cleaned.", "Seen at supply-failure", "Seen at alarm", "Seen at flush",
                 f"SHA-256 {clean_picture().digest[:16]}…", "corrected by Rui Serra, 2 Nov 2026, 12:00", "35 psi gauge",
                 "Minutes of work"):  # fmt: skip
        assert said in words, said
    assert paper_of(noted) == paper and check_paper(paper).verdict == Verdict.GENUINE
    assert pictures_on(paper) == {clean_picture(width).preview for width in (96, 80, 64)}


def test_a_picture_that_is_not_the_signed_one_is_not_printed(scene, noted):
    Photograph.objects.filter(digest=clean_picture().digest).update(preview=clean_picture(200).preview)
    paper = paper_of(noted)
    assert "The picture that was signed for is not stored any more." in words_on(paper)
    assert pictures_on(paper) == {clean_picture(width).preview for width in (80, 64)}
    assert check_paper(paper).verdict == Verdict.STORE_ALTERED


def test_a_page_whose_picture_is_gone_says_so(scene, noted, client):
    Photograph.objects.filter(digest=clean_picture().digest).delete()
    client.force_login(scene.other)
    assert "The picture is no longer stored." in client.get(noted.get_absolute_url()).text


def test_what_was_taken_back_is_shown_without_its_place(scene, client):
    scene.complete()
    scene.cell(6, "pressure", "18", unit="psi", instrument=scene.gauge)
    clear_reading(scene.step(), "falling", row=6, column="pressure", by=scene.other, at=NOON)
    signed = scene.sign()
    client.force_login(scene.other)
    page = client.get(signed.get_absolute_url()).text
    assert "Falling sweep, row 7, oxygen pressure: " in page and "taken back by Rui Serra" in page
    assert "taken back by Rui Serra" in words_on(paper_of(signed))


def test_the_signature_page_shows_what_it_freezes_and_asks_for_the_minutes(scene, client, time_machine):
    time_machine.move_to(NOON + timedelta(minutes=20), tick=False)
    scene.complete(at=NOON + timedelta(minutes=12))
    write_remark(scene.step(), "Sticks.", by=scene.technician, at=NOON)
    add_photograph(scene.step(), clean_picture(), by=scene.technician, at=NOON)
    client.force_login(scene.technician)
    url = f"{scene.inspection.get_absolute_url()}sign/"
    page = client.get(url).text
    assert "Sticks." in page and "Photograph 1 of Oxygen supply failure" in page
    assert 'name="minutes" value="12"' in page and "Proposed 12, from the start at 12:00" in page
    shown = re.search(r'name="shown" value="([^"]+)"', page)[1]
    for wrong in ("0", "1441", "-1", "1.5", "soon"):
        answer = client.post(url, {"password": PASSWORD, "minutes": wrong, "shown": shown})
        assert answer.status_code == 422 and "a whole number of minutes from 1 to 1,440" in answer.text
        assert f'value="{wrong}"' in answer.text
