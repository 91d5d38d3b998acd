"""The label on a machine: what was last signed, what is next due, and a code that opens the machine's page."""

from dataclasses import dataclass
from datetime import date
from io import BytesIO

import segno
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleet.characters import encodable
from fleet.documents import long_date
from fleet.drawing import ALARM, INK, REGULAR, SEMIBOLD, fit_text, wordmark, wrap_text
from fleet.models import MachineStatus

WIDTH, HEIGHT = 62 * mm, 29 * mm
EDGE = 2 * mm
GRAVE = ("fail", "conditional fail", "not tested", "not decided")
QUIET_MODULES = 4  # the empty border that a reader needs: ISO/IEC 18004, from memory


@dataclass(frozen=True, slots=True)
class Label:
    """The content of a label. `summary` is the worst decision in words; None dates mean never and none planned."""

    asset_number: str
    model: str
    url: str
    last_signed: date | None = None
    procedure: str = ""
    summary: str = ""
    next_due: date | None = None
    status: str = "in service"


def write_label(label: Label) -> bytes:
    """Return the label, 62 x 29 mm, as a PDF of one page, all of it vectors and text."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(WIDTH, HEIGHT), invariant=1, lang="en-GB")
    canvas.setTitle(encodable(f"Label of machine {label.asset_number}"))
    canvas.setAuthor("Bobbin")
    canvas.setSubject(label.url)
    side = HEIGHT - 2 * EDGE
    draw_code(canvas, label.url, WIDTH - EDGE - side, EDGE, side)
    _draw_words(canvas, label, WIDTH - 3 * EDGE - side + EDGE)
    canvas.save()
    return buffer.getvalue()


def draw_code(canvas, url, x, y, side):
    """Draw the QR code of an address as filled squares within a square of `side` points, its quiet border included."""
    code = segno.make(url, error="m", micro=False)
    rows = [bytes(row) for row in code.matrix]
    module = side / (len(rows) + 2 * QUIET_MODULES)
    canvas.setFillColor(INK)
    path = canvas.beginPath()
    for number, row in enumerate(rows):
        bottom = y + side - (number + 1 + QUIET_MODULES) * module
        for start, length in _runs(row):
            path.rect(x + (start + QUIET_MODULES) * module, bottom, length * module, module * 1.01)
    canvas.drawPath(path, stroke=0, fill=1)


def _runs(row):
    """Yield (start, length) of the dark stretches of a row, so that no seam runs between two dark squares."""
    start = None
    for index, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = index
        elif not dark and start is not None:
            yield start, index - start
            start = None


def _draw_words(canvas, label, width):
    y = HEIGHT - EDGE - 9
    canvas.setFillColor(INK)
    canvas.setFont(SEMIBOLD, _size_for(label.asset_number, width, 13))
    canvas.drawString(EDGE, y, fit_text(label.asset_number, width, _size_for(label.asset_number, width, 13), SEMIBOLD))
    y -= 9
    for line in wrap_text(label.model, width, 6.5):
        canvas.setFont(REGULAR, 6.5)
        canvas.drawString(EDGE, y, line)
        y -= 7.2
    y -= 2.5
    for words, is_strong, is_grave in _lines(label):
        font = SEMIBOLD if is_strong else REGULAR
        canvas.setFont(font, 7)
        canvas.setFillColor(ALARM if is_grave else INK)
        canvas.drawString(EDGE, y, fit_text(words, width, 7, font))
        y -= 8.4
    _draw_mark(canvas)


def _size_for(words, width, size):
    while size > 8 and fit_text(words, width, size, SEMIBOLD) != words:
        size -= 0.5
    return size


def _lines(label):
    """Yield words, whether they are strong, and whether they are grave."""
    if label.last_signed is None:
        yield "Not inspected yet", True, True
    else:
        yield f"Signed {long_date(label.last_signed)}: {label.summary}", True, label.summary in GRAVE
        yield label.procedure, False, False
    if label.status != "in service":
        yield MachineStatus(label.status).label, True, True
    yield (f"Next due {long_date(label.next_due)}" if label.next_due else "No inspection planned"), True, False


def _draw_mark(canvas):
    drawing = wordmark(8)
    drawing.drawOn(canvas, EDGE, EDGE - 1)
