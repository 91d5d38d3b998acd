"""The record prints in the formats that its site had at the signature, and the same again later."""

import json
import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.models import Site
from inspections.models import SignedRecord
from inspections.records.content import canonical_json, digest_of
from inspections.reports.checking import Verdict, check_paper
from inspections.reports.record import write_record
from inspections.reports.sources import for_record

AMERICAN = {
    "decimal_sign": ",", "date_format": "MM/DD/YYYY", "paper_size": "Letter", "time_zone": "America/Denver",
    "preferred_units": {"pressure": "kPa", "temperature": "°F"},
}  # fmt: skip


def paper(inspection):
    inspection = for_record(type(inspection).objects).get(pk=inspection.pk)
    return write_record(inspection, list(inspection.amendments.select_related("by", "step")))


def set_site(scene, **fields):
    Site.objects.filter(pk=scene.machine.site.pk).update(**fields)


@pytest.fixture
def signed(scene):
    set_site(scene, **AMERICAN)
    scene.machine.refresh_from_db()
    scene.inspection = for_record(type(scene.inspection).objects).get(pk=scene.inspection.pk)
    scene.complete()
    return scene.sign()


def test_paper_days_zone_and_numbers_are_those_of_the_site(signed, words_of):
    printed = paper(signed)
    assert [float(side) for side in PdfReader(BytesIO(printed)).pages[0].mediabox[2:]] == [612, 792]  # 8.5 x 11 in
    words = " ".join(words_of(printed))
    assert "11/02/2026, 06:00 (MST)" in words
    assert "68,0 °F" in words and "94,1 kPa absolute" in words
    assert "50 psi gauge" in words and "4,0 L/min" in words
    assert "172,4 kPa" in words or "172 ±" in words or "172,4 ±" in words  # 25 psi


def test_a_record_prints_the_same_after_its_site_changed_its_formats(scene, signed):
    printed = paper(signed)
    set_site(scene, decimal_sign=".", date_format="YYYY-MM-DD", paper_size="A4", preferred_units={}, time_zone="UTC")
    assert paper(signed) == printed
    assert check_paper(printed).verdict == Verdict.GENUINE


def test_a_record_signed_before_formats_were_frozen_prints_neutrally(scene, words_of):
    scene.complete()
    inspection = scene.sign()
    printed = paper(inspection)
    content = json.loads(inspection.record.content)
    del content["place_format"]
    text = canonical_json(content)
    SignedRecord.objects.filter(inspection=inspection).update(content=text, digest=digest_of(text))
    set_site(
        scene, decimal_sign=",", date_format="MM/DD/YYYY", paper_size="Letter", preferred_units={"pressure": "bar"}
    )
    older = paper(inspection)
    sides = [float(side) for side in PdfReader(BytesIO(older)).pages[0].mediabox[2:]]
    assert sides == pytest.approx([595.28, 841.89], abs=0.01)  # A4
    assert without_digests(words_of(older)[0]) == without_digests(words_of(printed)[0])


def without_digests(words):
    return re.sub(r"SHA-256\S*|[0-9a-f]{12,64}…?", "", words)
