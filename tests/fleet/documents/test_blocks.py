"""The elements of documents: what is made once and used again is what reportlab makes anew each time."""

from html import escape
from io import BytesIO

import pytest
from pypdf import PdfReader
from reportlab.platypus import Paragraph

from fleet.documents import Paper, build_pdf, data_table, marked, marked_cell, text
from fleet.documents.blocks import PLAIN, STYLES, Words
from fleet.documents.drawing_code import draw_drawing

PAPER = Paper(title="A paper", made="Made for a test")
ODD = [
    "", " two  spaces ", "a < b & c", "“quoted” and 'quoted'", 'say "so"', "line\nend", "no\xa0break",
    "zero\u200bwidth", "tab\tstop", "thin\u2009space", "&amp;",
]  # fmt: skip


@pytest.mark.parametrize("words", ["pressure", "12.5 kPa ± 0.2 kPa", "Öl, ½ %, 20 °C; (a) [b] {c} #d", *ODD])
@pytest.mark.parametrize("style", ["body", "head-number", "alarm"])
def test_a_text_is_the_paragraph_that_its_markup_makes(words, style):
    parsed = Paragraph(escape(words).replace("\n", "<br/>"), STYLES[style])
    made = text(words, style)
    assert [vars(one) for one in made.frags] == [vars(one) for one in parsed.frags]
    assert made.text == parsed.text or not PLAIN.fullmatch(words)
    assert made.wrap(60, 500) == parsed.wrap(60, 500)


def test_odd_texts_are_left_to_reportlab():
    assert not any(PLAIN.fullmatch(words) for words in ODD if words != "“quoted” and 'quoted'")


def test_lines_are_broken_again_for_another_width_and_after_a_split():
    words = Words("many words " * 40, STYLES["body"])
    wide, narrow = words.wrap(300, 500), words.wrap(100, 500)
    assert narrow[1] > wide[1] and words.wrap(300, 500) == wide
    whole = Paragraph("many words " * 40, STYLES["body"])
    whole.wrap(300, 500)
    assert words.split(300, 1) == whole.split(300, 1) == []  # which forgets the lines
    assert words.wrap(300, 500) == wide and len(words.blPara.lines) == round(wide[1] / STYLES["body"].leading)


def test_the_same_mark_is_drawn_alike_on_every_page(monkeypatch):
    drawn = []
    monkeypatch.setattr("fleet.documents.blocks.draw_drawing", _counted(drawn))
    pages = PdfReader(BytesIO(build_pdf(PAPER, [marked("pass") for _ in range(150)]))).pages
    marks = [page.extract_text().count("pass") for page in pages]
    assert len(pages) > 1 and sum(marks) == 150
    assert sum(one.width < 60 for one in drawn) == 1


def test_head_and_foot_are_the_same_on_every_page_but_for_its_number():
    pages = PdfReader(BytesIO(build_pdf(PAPER, [text(f"Row {number}") for number in range(200)]))).pages
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        words = page.extract_text()
        assert f"Page {number} of {len(pages)}" in words
        assert all(words.count(part) == 1 for part in ("A paper", "Made for a test", "Caution. For qualified"))


@pytest.mark.parametrize("decision", ["pass", "pass, limit not confirmed", "conditional fail, limit not confirmed"])
def test_a_decision_stays_within_its_column(decision):
    cell = marked_cell(decision)
    parts = cell if isinstance(cell, list) else [cell]
    assert max(part.wrap(70, 1000)[0] for part in parts) <= 70
    words = PdfReader(BytesIO(build_pdf(PAPER, [data_table(["Decision"], [[cell]], [70])]))).pages[0].extract_text()
    assert all(part in words for part in decision.split(", "))


def _counted(drawn):
    def counted(drawing, *args, **options):
        drawn.append(drawing)
        return draw_drawing(drawing, *args, **options)

    return counted
