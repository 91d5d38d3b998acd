"""The elements of documents. Every text is escaped here; callers pass plain text."""

import re
from collections.abc import Hashable, Sequence
from functools import cache
from html import escape
from io import BytesIO

from reportlab.graphics.shapes import Drawing
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Image, KeepTogether, Paragraph, Spacer, Table, TableStyle

from fleet.characters import encodable
from fleet.documents.drawing_code import draw_drawing
from fleet.documents.tags import TableTags, tagged, untagged
from fleet.drawing import ALARM, INK, LINE, REGULAR, SEMIBOLD, SHEET, SOFT, hatch, label, mark, text_width
from fleet.drawing.marks import mark_name

BASE = ParagraphStyle("base", fontName=REGULAR, fontSize=9.2, leading=12.2, textColor=INK, splitLongWords=1)


def _style(name, **changes):
    return ParagraphStyle(name, parent=BASE, **changes)


STYLES = {
    "body": BASE,
    "lead": _style("lead", fontSize=10.5, leading=14, textColor=SOFT),
    "note": _style("note", fontSize=7.8, leading=10, textColor=SOFT),
    "small": _style("small", fontSize=8.2, leading=10.4),
    "strong": _style("strong", fontName=SEMIBOLD),
    "alarm": _style("alarm", fontName=SEMIBOLD, textColor=ALARM),
    "small-indent": _style("small-indent", fontSize=8.2, leading=10.4, leftIndent=12),
    "small-strong": _style("small-strong", fontSize=8.2, leading=10.4, fontName=SEMIBOLD),
    "small-alarm": _style("small-alarm", fontSize=8.2, leading=10.4, fontName=SEMIBOLD, textColor=ALARM),
    "number": _style("number", fontSize=8.2, leading=10.4, alignment=TA_RIGHT),
    "number-alarm": _style(
        "number-alarm", fontSize=8.2, leading=10.4, alignment=TA_RIGHT, fontName=SEMIBOLD, textColor=ALARM
    ),
    "head": _style("head", fontName=SEMIBOLD, fontSize=7.8, leading=9.4),
    "head-number": _style("head-number", fontName=SEMIBOLD, fontSize=7.8, leading=9.4, alignment=TA_RIGHT),
    "title": _style("title", fontName=SEMIBOLD, fontSize=21, leading=24),
    "h1": _style("h1", fontName=SEMIBOLD, fontSize=13, leading=16, spaceBefore=13, spaceAfter=5, keepWithNext=1),
    "h2": _style("h2", fontName=SEMIBOLD, fontSize=10.4, leading=13, spaceBefore=8, spaceAfter=3, keepWithNext=1),
    "figure": _style("figure", fontName=SEMIBOLD, fontSize=19, leading=21),
    "bullet": _style("bullet", leftIndent=10, bulletIndent=1),
}


# A text of which reportlab makes one fragment as it is: no markup, no signs that are written as such, single spaces.
PLAIN = re.compile(r"""[^\s\u200b&<>"']+(?: [^\s\u200b&<>"']+)*""")


class Words(Paragraph):
    """A paragraph that says what it is: P, or a heading."""

    role = "P"
    _broken_at = None  # the width for which its lines are broken

    def wrap(self, width, height):
        """Break the lines once for a width: a table asks for each cell again and again. Splitting forgets them."""
        if self._broken_at != width or not hasattr(self, "blPara"):
            self._broken_at, self._size = width, super().wrap(width, height)
        return self._size

    def draw(self):
        with tagged(self.canv, self.role):
            super().draw()


class Title(Words):
    role = "H1"


def text(words: object, style: str = "body") -> Words:
    """Return plain text as a paragraph; line ends are preserved. `style` is a key of STYLES."""
    kind, words = Title if style == "title" else Words, str(words)
    if PLAIN.fullmatch(words):  # what nearly all are; to parse one takes longer than to print it
        return kind(words, STYLES[style], frags=[_plain(style).clone(text=words)])
    return kind(escape(words).replace("\n", "<br/>"), STYLES[style])


@cache
def _plain(style):
    """What reportlab makes of a text without markup in this style: one fragment."""
    return Paragraph("text", STYLES[style]).frags[0]


def struck(was: object, words: object, style: str = "note", *, before: str = "") -> Words:
    """Return a text that counts no longer, struck out, with plain words before and after it."""
    markup = f"{escape(before)}<strike>{escape(str(was))}</strike> {escape(str(words))}"
    return Words(markup, STYLES[style])


class LongRows(Table):
    """A table that splits a row only if it is taller than a page; it arranges, and is no table to who has it read."""

    is_data = False
    _sized_for = None  # the width for which all its rows have their heights

    def __init__(self, *args, **options):
        super().__init__(*args, **{**options, "renderCB": TableTags(self.is_data)})

    def wrap(self, width, height):
        """Measure the rows once for a width. A long table measures those that fit, and more when it is asked again."""
        if self._sized_for != width:
            super().wrap(width, height)
            self._sized_for = width if self._hmax == self._nrows else None
        return self._width, self._height

    def split(self, width, height):
        parts = super().split(width, height)
        frame = getattr(self, "_frame", None)
        if parts or frame is None or not frame._atTop:
            return parts
        parts = self._splitRows(height, doInRowSplit=1)
        if not parts:  # the head itself is taller than a page
            self.repeatRows = 0
            parts = self._splitRows(height, doInRowSplit=1)
        return parts


class DataRows(LongRows):
    """A table of data, with rows, cells and a head."""

    is_data = True


class Heading(Words):
    """A heading that is also in the outline of the file; level 0 is a section, 1 a subsection.

    outline  text, key and level of its entry
    """

    def __init__(self, words: str, level: int = 0, key: str = ""):
        super().__init__(escape(words), STYLES[f"h{level + 1}"])
        self.words, self.role = words, f"H{level + 2}"
        self.outline = (encodable(words), key or f"{level}-{words}", level)

    def split(self, width, height):
        """Split one that is taller than its space; the outline names the first piece."""
        body = Words(escape(self.words), self.style)
        body.wrap(width, height)
        parts = body.split(width, height)
        for part in parts:
            part.role = self.role
        for part in parts[:1]:
            part.outline = self.outline
        return parts


def title_block(title: str, lead: str = "") -> list[Flowable]:
    """Return the title of the document, set large, and the sentence below it."""
    return [text(title, "title"), Spacer(1, 3), *([text(lead, "lead"), Spacer(1, 6)] if lead else [])]


def bullets(sentences: Sequence[str], style: str = "bullet") -> list[Flowable]:
    """Return sentences as a list, one dash each."""
    return [Words(escape(words), STYLES[style], bulletText="–") for words in sentences]


def data_table(
    head: Sequence[str],
    rows: Sequence[Sequence[object]],
    widths: Sequence[float],
    *,
    numbers: Sequence[int] = (),
    is_dense: bool = False,
    extra: Sequence[tuple] = (),
) -> Table:
    """Return a ruled table whose head repeats on every page.

    rows     cells: plain text, set small and wrapped, or a flowable as it is
    widths   points, one for each column
    numbers  indices of the columns whose figures are aligned right
    is_dense  for long tables of readings: rows close together
    extra    further reportlab table style commands; row 0 is the head
    """
    titles = [text(words, "head-number" if index in numbers else "head") for index, words in enumerate(head)]
    cells = [[_cell(value, index in numbers) for index, value in enumerate(row)] for row in rows]
    style = TableStyle([*RULES, *(DENSE if is_dense else ()), *extra])
    return DataRows([titles, *cells], colWidths=list(widths), repeatRows=1, style=style, hAlign="LEFT")


DENSE = (("TOPPADDING", (0, 1), (-1, -1), 0.8), ("BOTTOMPADDING", (0, 1), (-1, -1), 1.6))
RULES = (
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
    ("LINEABOVE", (0, 0), (-1, 0), 1.2, INK),
    ("LINEBELOW", (0, 0), (-1, 0), 0.6, INK),
    ("LINEBELOW", (0, 1), (-1, -2), 0.4, LINE),
    ("LINEBELOW", (0, -1), (-1, -1), 0.8, INK),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 8),
    ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 2.6),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
)


def _cell(value, is_number):
    if isinstance(value, Flowable | list | tuple):
        return value
    return text(value, "number" if is_number else "small")


def facts(pairs: Sequence[tuple[str, object]], width: float, columns: int = 3) -> Table:
    """Return labels with their values below, in columns of equal width."""
    cells = [[text(label, "note"), text(value or "–", "strong")] for label, value in pairs]
    rows = [cells[start : start + columns] for start in range(0, len(cells), columns)]
    rows[-1] += [""] * (columns - len(rows[-1]))
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEABOVE", (0, 0), (-1, -1), 0.4, LINE),
        ("LINEABOVE", (0, 0), (-1, 0), 1.2, INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 3),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    return LongRows(rows, colWidths=[width / columns] * columns, style=TableStyle(style), hAlign="LEFT")


def figure_line(figures: Sequence[tuple[object, str]], width: float) -> Table:
    """Return large figures with a label below each, on one line."""
    row = [[text(figure, "figure"), text(words, "note")] for figure, words in figures]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEABOVE", (0, 0), (-1, 0), 1.2, INK),
        ("LINEBELOW", (0, 0), (-1, 0), 0.4, INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 7),
    ]
    return LongRows([row], colWidths=[width / len(row)] * len(row), style=TableStyle(style), hAlign="LEFT")


def caution_box(sentences: Sequence[str], width: float, title: str = "Caution") -> KeepTogether:
    """Return sentences in a frame with a hatched edge, as on a machine plate; never split."""
    inner = [text(title, "strong"), *(bullets(sentences) if len(sentences) > 1 else [text(sentences[0])])]
    style = [
        ("BOX", (0, 0), (-1, -1), 1, INK),
        ("LINEAFTER", (0, 0), (0, 0), 1, INK),
        ("BACKGROUND", (1, 0), (1, 0), SHEET),
        ("LEFTPADDING", (1, 0), (1, 0), 8),
        ("TOPPADDING", (0, 0), (-1, -1), 5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    return KeepTogether([_HatchedTable([["", inner]], colWidths=[11, width - 11], style=TableStyle(style))])


class _HatchedTable(LongRows):
    """A table of one row whose first cell is hatched."""

    def draw(self):
        self.canv.saveState()
        drawing = Drawing(11, self._height)
        drawing.add(hatch(0, 0, 11, self._height, gap=5.5, colour=INK))
        with untagged(self.canv):
            draw_drawing(drawing, self.canv)
        self.canv.restoreState()
        super().draw()


GRAVE = ("fail", "conditional fail", "incomplete", "not fitted", "unwanted", "obsolete")


def marked(name: str, words: str = "", size: float = 8.2) -> Flowable:
    """Return a mark with its word beside it, as a drawing of one line; serious ones are set in the alarm colour.

    name  of fleet.drawing.mark, with more words after a comma; words  the text beside it, the name unless given
    Raises ValueError for a name that has no mark.
    """
    words, name = words or name, mark_name(name)
    font = SEMIBOLD if name in GRAVE else REGULAR
    drawing = Drawing(size * 1.9 + text_width(words, size, font), size * 1.27)
    drawing.add(mark(name, -size * 0.1, -size * 0.1, size * 1.35))
    colour = ALARM if name in GRAVE else INK
    drawing.add(label(size * 1.85, size * 0.27, words, size, font=font, colour=colour))
    return Picture(drawing, words, same=(name, words, size))


def marked_cell(name: str) -> Flowable | list[Flowable]:
    """Return a mark for a column: words after a comma stand below it, so that they never reach the next column."""
    first, _, rest = name.partition(", ")
    return [marked(name, first), text(rest, "small")] if rest else marked(name)


def side_by_side(left: object, right: object, widths: Sequence[float]) -> Table:
    """Return two elements beside each other, aligned at the top; widths in points."""
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    return LongRows([[left, right]], colWidths=list(widths), style=TableStyle(style), hAlign="LEFT")


class Picture(Flowable):
    """A drawing at the left edge, with the words that stand for it where it is read aloud.

    same  equal for drawings that are equal: each is turned into code once in a document
    """

    hAlign = "LEFT"

    def __init__(self, drawing: Drawing, alt: str, same: Hashable = None):
        super().__init__()
        self.same = same
        self.drawing, self.alt = drawing, encodable(alt)
        self.width, self.height = drawing.width, drawing.height

    def wrap(self, *available):
        return self.width, self.height

    def draw(self):
        with tagged(self.canv, "Figure", self.alt) if self.alt else untagged(self.canv):
            self._draw(getattr(self.canv, "drawn", None) if self.same else None)

    def _draw(self, known):
        """Draw it; `known` maps what was drawn in the document already to its code."""
        if known and self.same in known:
            self.canv._code.extend(known[self.same])
            return
        before = len(self.canv._code)
        draw_drawing(self.drawing, self.canv)
        if known is not None:
            known[self.same] = self.canv._code[before:]


class Photograph(Picture):
    """A photograph, scaled."""

    def draw(self):
        with tagged(self.canv, "Figure", self.alt):
            self.drawing.drawOn(self.canv, 0, 0)


def photograph(jpeg: bytes, width: float, height: float, alt: str) -> Flowable:
    """Return a JPEG as a picture of this size in points. `alt` says what it shows."""
    image = Image(BytesIO(jpeg), width, height)
    image.width, image.height = width, height
    return Photograph(image, alt)


def arranged(rows: Sequence[Sequence[object]], widths: Sequence[float]) -> Table:
    """Return elements in rows and columns, aligned at the top; widths in points."""
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
    ]
    return LongRows(list(rows), colWidths=list(widths), style=TableStyle(style), hAlign="LEFT")


def picture(drawing: Drawing, alt: str) -> Flowable:
    """Return a drawing at the left edge. `alt` says what it shows; empty for one that only decorates."""
    return Picture(drawing, alt)
