"""The page: size, head with its ruler, foot with caution and page number, and the properties of the file.

The same content gives the same bytes: the file holds no clock time and no random identifier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO

from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfdoc import PDFStream, PDFZCompress
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from fleet.characters import encodable
from fleet.documents.drawing_code import draw_drawing
from fleet.documents.tags import Tags
from fleet.drawing import INK, REGULAR, SEMIBOLD, SOFT, fit_text, wordmark, wrap_text
from fleet.place_format import current

CAUTION = (
    "For qualified personnel. The manufacturer's instructions, local codes and licensed practice come first. Limits "
    "are starting points to be approved locally. Bobbin computes and records; it never clears a machine: "
    "a person signs."
)
SIZES = {"A4": A4, "Letter": LETTER}
SIDE, HEAD, FOOT = 16 * mm, 27 * mm, 21 * mm


@dataclass(frozen=True, slots=True)
class Paper:
    """The properties of a document.

    title      shown in the head of every page and in the file's properties
    made       when and for whom it was made, shown in the foot; part of the content, so that the bytes depend on it
    reference  its subject, at the right of the head, such as an asset number
    keywords   in the file's properties only
    """

    title: str
    made: str
    reference: str = ""
    subject: str = ""
    author: str = "Bobbin"
    keywords: str = ""
    is_landscape: bool = False
    caution: str = CAUTION

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points, on the paper of the place that is shown now."""
        size = SIZES[current().paper]
        return landscape(size) if self.is_landscape else size

    @property
    def width(self) -> float:
        """Width between the margins, in points."""
        return self.size[0] - 2 * SIDE

    @property
    def height(self) -> float:
        """Height between head and foot, in points."""
        return self.size[1] - HEAD - FOOT


def build_pdf(paper: Paper, story: Sequence[Flowable]) -> bytes:
    """Return the content as PDF, on as many pages as it needs. Raises LayoutError if an element fits on no page."""
    buffer = BytesIO()
    document = _Document(
        buffer,
        pagesize=paper.size,
        title=encodable(paper.title),
        subject=encodable(paper.subject or paper.reference),
        author=paper.author,
        keywords=encodable(paper.keywords),
        creator="Bobbin",
        lang="en-GB",
        invariant=1,
        displayDocTitle=1,
    )
    frame = Frame(SIDE, FOOT, paper.width, paper.height, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame]))
    document.build(list(story), canvasmaker=partial(_CountingCanvas, paper=paper))
    return buffer.getvalue()


def count_pages(paper: Paper, story: Sequence[Flowable]) -> int:
    """Return how many pages the elements take. They are used up: make them anew to print them."""
    document = BaseDocTemplate(BytesIO(), pagesize=paper.size)
    frame = _MeasuringFrame(SIDE, FOOT, paper.width, paper.height, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame]))
    document.build(list(story))
    return document.page


class _MeasuringFrame(Frame):
    """Gives each element its place and draws none."""

    def add(self, flowable, canvas, trySplit=0):
        flowable.drawOn = _draw_nothing
        return super().add(flowable, canvas, trySplit)


def _draw_nothing(canvas, x, y, _sW=0):
    """What an element does that is only measured."""


class _Document(BaseDocTemplate):
    """Adds every heading to the outline of the file."""

    def afterFlowable(self, flowable):
        if outline := getattr(flowable, "outline", None):
            words, key, level = outline
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(words, key, level=level, closed=0)


class _CountingCanvas(Canvas):
    """Delays the pages until their number is known."""

    def __init__(self, *args, paper, **kwargs):
        super().__init__(*args, **kwargs)
        self._paper = paper
        self._held = []
        self.tags = Tags()
        self.drawn = {}  # the code of drawings that come again and again

    @property
    def page_index(self):
        """How many pages are complete."""
        return len(self._held)

    def showPage(self):
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self):
        held, same = self._held, None
        for number, state in enumerate(held, start=1):
            self.__dict__.update(state)
            with self.tags.artifact(self):
                same = self._draw_same(same)
                _draw_number(self, self._paper, number, len(held))
            super().showPage()
            self._compress_alone(self._doc.Pages.pages[-1])
        self.tags.write(self._doc)
        super().save()

    @staticmethod
    def _compress_alone(page):
        """Write what is on the page as compressed bytes; reportlab would write these as letters, a quarter longer."""
        page.Contents = PDFStream(content=page.stream, filters=[PDFZCompress])

    def _draw_same(self, drawn):
        """Draw what is the same on each page, as `drawn` on the page before; return the code of it."""
        if drawn is not None:
            self._code.extend(drawn)
            return drawn
        before = len(self._code)
        _draw_head(self, self._paper)
        _draw_foot(self, self._paper)
        return self._code[before:]


def _draw_head(canvas, paper):
    width, height = paper.size
    base = height - 19 * mm
    canvas.saveState()
    canvas.translate(SIDE, base + 2.4 * mm)
    draw_drawing(wordmark(25), canvas)
    canvas.restoreState()
    canvas.setFillColor(INK)
    canvas.setFont(SEMIBOLD, 9)
    room = paper.width - 30 * mm
    canvas.drawRightString(width - SIDE, base + 7 * mm, fit_text(paper.title, room, 9, SEMIBOLD))
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 8.5)
    canvas.drawRightString(width - SIDE, base + 3.2 * mm, fit_text(paper.reference, room, 8.5))
    _draw_ruler(canvas, SIDE, base, paper.width)


def _draw_ruler(canvas, x, y, width):
    """Draw graduations above a line: every fifth is long, as on the screen pages."""
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.4)
    for tick in range(int(width / 4.5) + 1):
        canvas.line(x + tick * 4.5, y, x + tick * 4.5, y + (4.6 if tick % 5 == 0 else 2.4))
    canvas.setLineWidth(1)
    canvas.line(x, y, x + width, y)


def _draw_foot(canvas, paper):
    width, _ = paper.size
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.5)
    canvas.line(SIDE, 16 * mm, width - SIDE, 16 * mm)
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 7)
    for row, words in enumerate(wrap_text(f"Caution. {paper.caution}", paper.width - 44 * mm, 7, lines=3)):
        canvas.drawString(SIDE, 12.8 * mm - row * 8.4, words)
    canvas.drawRightString(width - SIDE, 9 * mm, paper.made)


def _draw_number(canvas, paper, number, total):
    width, _ = paper.size
    canvas.setFillColor(INK)
    canvas.setFont(SEMIBOLD, 8.5)
    canvas.drawRightString(width - SIDE, 12.6 * mm, f"Page {number} of {total}")
