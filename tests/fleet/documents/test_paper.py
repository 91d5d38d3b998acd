"""Every printed document has its page count, its caution and its title, and its bytes depend on its content alone."""

from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    caution_box,
    count_pages,
    data_table,
    facts,
    marked,
    side_by_side,
    text,
)  # fmt: skip

PAPER = Paper("Trial paper", "Made for nobody, 2 Nov 2026", reference="M-0001", subject="A trial")


def story(rows=120):
    table = data_table(["Thing", "Count"], [[f"thing {n}", n] for n in range(rows)], [300, 80], numbers=[1])
    return [Heading("First part"), text("<b> & “words”"), facts([("Asset", "M-0001")], PAPER.width), table]


@pytest.mark.parametrize("rows", [1, 30, 31, 32, 33, 34, 120])
def test_pages_are_counted_without_drawing_them(rows, monkeypatch):
    printed = len(read(build_pdf(PAPER, story(rows))).pages)
    monkeypatch.setattr("fleet.documents.blocks.Words.draw", None)  # fails if it is called
    assert count_pages(PAPER, story(rows)) == printed


def read(content):
    return PdfReader(BytesIO(content))


def test_every_page_says_which_of_how_many_it_is_and_the_caution():
    pages = [page.extract_text() for page in read(build_pdf(PAPER, story())).pages]
    assert len(pages) > 2
    for number, words in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in words
        assert "For qualified personnel" in words and "Made for nobody" in words and "M-0001" in words


def test_the_head_of_a_table_is_repeated_on_every_page_it_reaches():
    assert all("Thing" in page.extract_text() for page in read(build_pdf(PAPER, story())).pages)


def test_the_file_says_its_title_subject_language_and_parts():
    reader = read(build_pdf(PAPER, story()))
    assert (reader.metadata.title, reader.metadata.subject) == ("Trial paper", "A trial")
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"
    assert [entry.title for entry in reader.outline] == ["First part"]


def test_the_same_content_gives_the_same_bytes():
    assert build_pdf(PAPER, story()) == build_pdf(PAPER, story())


def test_marks_of_markup_in_a_text_stay_text():
    assert "<b> & “words”" in read(build_pdf(PAPER, story(1))).pages[0].extract_text()


def test_a_long_word_wraps_inside_its_cell():
    rows = [["M" * 300, 1]]
    reader = read(build_pdf(PAPER, [data_table(["Thing", "Count"], rows, [200, 80])]))
    assert reader.pages[0].extract_text().replace("\n", "").count("M") >= 300


def test_a_caution_of_several_sentences_is_kept_together():
    words = read(build_pdf(PAPER, [caution_box(["Vent first.", "Then open."], 300)])).pages[0].extract_text()
    assert words.index("Caution") < words.index("Vent first.") < words.index("Then open.")


@pytest.mark.parametrize("words", ["W" * 2000, "two words " * 400])
def test_a_text_taller_than_a_page_goes_on_over_the_next_ones(words):
    story = [Heading(words), Heading(words, 1), data_table([words, "b"], [[words, "x"], ["y", words]], [60, 60])]
    story += [facts([("a", words)], 120), side_by_side([text(words)], [text("z")], [50, 50]), caution_box([words], 90)]
    reader = PdfReader(BytesIO(build_pdf(Paper("Title", "made"), story)))
    assert len(reader.pages) > 10 and len(reader.outline) == 2
    assert "".join(page.extract_text() for page in reader.pages).count("W" if "W" in words else "two") >= 6 * 400


@pytest.mark.parametrize("sign", ["\ud800", "\x00", "\v", "\x7f", "\ufffe", "\u202e", "\u200b"])
def test_no_sign_breaks_a_paper(sign):
    words = f"a{sign}b <b> & <font"
    paper = Paper(words, words, reference=words, subject=words, keywords=words)
    story = [text(words), Heading(words), marked("fail", words), data_table([words], [[words]], [90])]
    assert "b <b> & <font" in PdfReader(BytesIO(build_pdf(paper, story))).pages[0].extract_text()
