"""The device book on paper: everything of the content is on it, tagged, paginated, with its digest."""

import io

import pytest
from pypdf import PdfReader

from fleet.web.at_site import at_site
from inspections.device_book.content import TITLES, written
from inspections.reports.device_book import write_device_book
from tests.inspections.device_book.lives import live
from tests.inspections.device_book.test_content import book_of


@pytest.fixture
def printed(scene):
    live(scene)
    content = book_of(scene.machine, scene.other)
    _, digest = written(content)
    with at_site(scene.machine.site):
        return scene.machine, content, digest, write_device_book(content, digest)


def words_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_every_part_is_on_the_paper_with_the_digest_and_the_moment(printed):
    machine, _, digest, pdf = printed
    text = words_of(pdf)
    assert f"Device book of machine {machine.asset_number}" in text
    assert all(title in text for title in TITLES)
    assert digest in text and "2 Nov 2026, 12:00 (WET)" in text
    for said in ("Too old", "Theatre 9", "SN-77", "Carried filled", "Read 27 psi.", "Letter of the works", "mercury"):
        assert said.lower() in text.lower(), said


def test_it_is_tagged_paginated_and_names_its_digest_in_its_properties(printed):
    _, _, digest, pdf = printed
    reader = PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/StructTreeRoot"] and root["/Lang"] == "en-GB"
    assert f"Page 1 of {len(reader.pages)}" in reader.pages[0].extract_text() and len(reader.pages) > 2
    assert reader.metadata["/Keywords"] == f"SHA-256 {digest}"
    assert {one.title for one in reader.outline} >= set(TITLES)


def test_the_same_content_gives_the_same_bytes(printed, scene):
    _, content, digest, pdf = printed
    with at_site(scene.machine.site):
        assert write_device_book(content, digest) == pdf


def test_what_is_left_out_is_said(printed):
    _, content, digest, _ = printed
    content["sections"][0]["left_out"] = 1234
    assert "1,234 more are left out here" in words_of(write_device_book(content, digest))
