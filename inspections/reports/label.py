"""The label on a machine: what was last signed, what is next due, and a code that opens the machine's page."""

import textwrap
from dataclasses import dataclass
from datetime import date

import segno
from reportlab.lib.units import mm

from fleet.caution import COMES_FIRST, QUALIFIED
from fleet.days import long_date
from fleet.documents import small_pdf, tagged, untagged
from fleet.drawing import ALARM, INK, REGULAR, SEMIBOLD, fit_text, wordmark, wrap_text
from fleet.models import MachineStatus
from inspections.bench.decision_words import INCOMPLETE

WIDTH, HEIGHT = 62 * mm, 29 * mm
EDGE = 2 * mm
CAUTION_SIZE = 3.1  # points: small print, about 1.1 mm
LEAST_SIZE = 4.5  # points, for a result in many words
GRAVE = ("fail", "conditional fail", INCOMPLETE)
CAUTION = (QUALIFIED, *textwrap.wrap(COMES_FIRST, 44))
QUIET_MODULES = 4  # the empty border that a reader needs: ISO/IEC 18004, from memory


@dataclass(frozen=True, slots=True)
class Label:
    """The content of a label. `summary` is the result in words, “pass” or “incomplete”; None dates mean never, or none
    planned.
    """

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
    side = HEIGHT - 2 * EDGE

    def draw(canvas):
        _draw_words(canvas, label, WIDTH - 3 * EDGE - side + EDGE)
        draw_code(canvas, label.url, WIDTH - EDGE - side, EDGE, side)

    return small_pdf((WIDTH, HEIGHT), title=f"Label of machine {label.asset_number}", subject=label.url, draw=draw)


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
    with tagged(canvas, "Figure", f"Code of the address {url}"):
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
    with tagged(canvas, "H1"):
        number = fit_text(label.asset_number, width, _size_for(label.asset_number, width, 13), SEMIBOLD)
        canvas.drawString(EDGE, y, number)
    y -= 9
    with tagged(canvas, "P"):
        for line in wrap_text(label.model, width, 6.5):
            canvas.setFont(REGULAR, 6.5)
            canvas.drawString(EDGE, y, line)
            y -= 7.2
    y -= 2.5
    lines = list(_lines(label, width))
    size, leading = (7, 8.4) if len(lines) < 4 else (6.2, 6.8)
    for words, is_strong, is_grave in lines:
        font = SEMIBOLD if is_strong else REGULAR
        fitting = _fitting(words, width, size, font) if is_strong else size
        canvas.setFont(font, fitting)
        canvas.setFillColor(ALARM if is_grave else INK)
        with tagged(canvas, "P"):
            canvas.drawString(EDGE, y, fit_text(words, width, fitting, font))
        y -= leading
    _draw_caution(canvas, width)


def _draw_caution(canvas, width):
    """The caution in small print beside the wordmark, at the foot."""
    mark = wordmark(6)
    with untagged(canvas):
        mark.drawOn(canvas, EDGE, EDGE - 2)
    canvas.setFillColor(INK)
    canvas.setFont(REGULAR, CAUTION_SIZE)
    left = EDGE + mark.width + 2
    with tagged(canvas, "P"):
        for number, line in enumerate(CAUTION):
            canvas.drawString(left, EDGE - 2.6 + (len(CAUTION) - 1 - number) * CAUTION_SIZE * 1.12, line)


def _fitting(words, width, size, font):
    """The largest size, up to the one given, at which a line is not cut short."""
    while size > LEAST_SIZE and fit_text(words, width, size, font) != words:
        size -= 0.2
    return size


def _size_for(words, width, size):
    while size > 8 and fit_text(words, width, size, SEMIBOLD) != words:
        size -= 0.5
    return size


def _lines(label, width):
    """Yield words, whether they are strong, and whether they are grave. A result is never cut short."""
    if label.last_signed is None:
        yield "Not inspected yet", True, True
    else:
        is_grave = label.summary.startswith(GRAVE)
        signed = f"Signed {long_date(label.last_signed)}:"
        if fit_text(f"{signed} {label.summary}", width, 6.2, SEMIBOLD) == f"{signed} {label.summary}":
            yield f"{signed} {label.summary}", True, is_grave
        else:
            yield signed, True, is_grave
            yield label.summary, True, is_grave
        yield label.procedure, False, False
    if label.status != "in service":
        yield MachineStatus(label.status).label, True, True
    yield (f"Next due {long_date(label.next_due)}" if label.next_due else "No inspection planned"), True, False
