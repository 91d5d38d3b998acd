"""A plain paragraph is broken and printed as reportlab does it: the reference is reportlab's own paragraph."""

from html import escape
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from fleet.documents import bullets, struck, text
from fleet.documents.blocks import STYLES
from tests.page_reader import assert_same_painting, painted

WORDS = st.text("abcdefghijklmnop.,;()%°±é0123456789", min_size=1, max_size=18)
STYLE = st.sampled_from(["body", "note", "number", "small-indent", "title", "head-number"])


def printed(paragraph, width):
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(600, 2000), invariant=1)
    _, height = paragraph.wrapOn(canvas, width, 5000)
    paragraph.drawOn(canvas, 30.25, 1900 - height)
    canvas.rect(0, 0, 5, 5)  # in the colours that it leaves
    canvas.save()
    return painted(buffer.getvalue()), height


def of_reportlab(words, style):
    return Paragraph(escape(words).replace("\n", "<br/>"), STYLES[style])


@settings(max_examples=150, deadline=None)
@given(words=st.lists(WORDS, min_size=1, max_size=30), style=STYLE, width=st.floats(60, 400))
def test_a_text_is_printed_as_reportlab_prints_it(words, style, width):
    words = " ".join(words)
    (ours, our_height), (theirs, their_height) = (
        printed(text(words, style), width),
        printed(of_reportlab(words, style), width),
    )
    assert our_height == pytest.approx(their_height)
    assert_same_painting(ours, theirs)


@pytest.mark.parametrize("words", ["a < b & c", "two  spaces", "line\nend", "no\xa0break", "x" * 200, "soft\xadhyphen"])
@pytest.mark.parametrize("style", ["small", "number"])
def test_a_text_with_markup_or_odd_spaces_is_printed_as_reportlab_prints_it(words, style):
    ours, theirs = printed(text(words, style), 120), printed(of_reportlab(words, style), 120)
    assert ours[1] == theirs[1]
    assert_same_painting(ours[0], theirs[0])


def test_bullets_and_struck_words_are_left_to_reportlab():
    (bullet, _), (gone, _) = printed(bullets(["One"])[0], 200), printed(struck("4.2", "by Ana"), 200)
    assert [one[1] for one in bullet if one[0] == "text"] and len([one for one in bullet if one[0] == "text"]) == 2
    assert [one for one in gone if one[0] == "path" and len(one[1]) == 2 and one[2]], "no line through the words"


def test_an_empty_text_paints_nothing():
    ours, height = printed(text(""), 200)
    assert height == 0 and [one[0] for one in ours] == ["path"]
