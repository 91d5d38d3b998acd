"""The DO NOT USE tag of a withdrawn machine: A6 to hang on it, or 62 x 100 mm from a label printer."""

from dataclasses import dataclass
from datetime import date
from io import BytesIO

from reportlab.graphics import renderPDF
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fleet.caution import COMES_FIRST, QUALIFIED
from fleet.characters import encodable, printable
from fleet.days import long_date
from fleet.drawing import ALARM, INK, REGULAR, SEMIBOLD, fit_text, text_width, wordmark
from inspections.reports.label import draw_code

SIZES = {"a6": (105 * mm, 148 * mm), "label": (62 * mm, 100 * mm)}
TITLE = ("DO NOT", "USE")
LEAST = 5.0  # points, for a very long reason
UNTIL = "Only the biomedical department returns this machine to service and removes this tag."


@dataclass(frozen=True, slots=True)
class Tag:
    """What a tag says. `phone` is empty if the site has entered none."""

    asset_number: str
    model: str
    reason: str
    by: str
    on: date
    url: str
    phone: str = ""


def write_tag(tag: Tag, size: str) -> bytes:
    """Return the tag as a PDF of one page; `size` is a key of SIZES."""
    width, height = SIZES[size]
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(width, height), invariant=1, lang="en-GB")
    canvas.setTitle(encodable(f"DO NOT USE: machine {tag.asset_number}"))
    canvas.setAuthor("Bobbin")
    canvas.setSubject(tag.url)
    _Sheet(canvas, width, height).draw(tag)
    canvas.save()
    return buffer.getvalue()


class _Sheet:
    """One tag. All lengths are shares of the width, so that both sizes look alike."""

    def __init__(self, canvas, width, height):
        self.canvas, self.width, self.height = canvas, width, height
        self.edge = 0.05 * width
        self.room = width - 2 * self.edge

    def draw(self, tag):
        self._draw_bands()
        y = self._draw_title(self.height - 0.11 * self.width)
        y = self._line(tag.asset_number, y - 0.03 * self.width, 0.1, SEMIBOLD)
        y = self._line(tag.model, y, 0.045, REGULAR)
        side = 0.36 * self.width
        bottom = 0.2 * self.width
        self._draw_reason(tag, y - 0.03 * self.width, bottom + side)
        self._draw_foot(tag, bottom, side)

    def _draw_bands(self):
        """Slanted bars at the head and the foot: the tag is known by its shape, also in one colour."""
        depth = 0.08 * self.width
        for base in (self.height - depth, 0):
            self.canvas.saveState()
            path = self.canvas.beginPath()
            path.rect(0, base, self.width, depth)
            self.canvas.clipPath(path, stroke=0, fill=0)
            self.canvas.setFillColor(ALARM)
            x = -depth
            while x < self.width:
                bar = self.canvas.beginPath()
                for number, (dx, dy) in enumerate(((0, 0), (0.55, 0), (1.55, 1), (1, 1))):
                    (bar.lineTo if number else bar.moveTo)(x + dx * depth, base + dy * depth)
                bar.close()
                self.canvas.drawPath(bar, stroke=0, fill=1)
                x += 1.1 * depth
            self.canvas.restoreState()

    def _draw_title(self, y):
        """Two lines as wide as the tag, beside a crossed square."""
        size = 0.19 * self.width
        self.canvas.setFillColor(INK)
        for words in TITLE:
            y -= 0.9 * size
            self.canvas.setFont(SEMIBOLD, size)
            self.canvas.drawString(self.edge, y, words)
        self._draw_cross(self.width - self.edge - 1.05 * size, y, 1.05 * size)
        return y

    def _draw_cross(self, x, y, side):
        self.canvas.saveState()
        self.canvas.setStrokeColor(ALARM)
        self.canvas.setLineWidth(0.1 * side)
        inner = 0.08 * side
        self.canvas.rect(x + inner, y + inner, side - 2 * inner, side - 2 * inner, stroke=1, fill=0)
        self.canvas.line(x + 0.24 * side, y + 0.24 * side, x + 0.76 * side, y + 0.76 * side)
        self.canvas.line(x + 0.24 * side, y + 0.76 * side, x + 0.76 * side, y + 0.24 * side)
        self.canvas.restoreState()

    def _line(self, words, y, share, font):
        """One line, smaller if it is too long, and cut short only where even that does not fit."""
        words, size = printable(words), share * self.width
        while size > LEAST and text_width(words, size, font) > self.room:
            size *= 0.95
        y -= 1.2 * size
        self.canvas.setFillColor(INK)
        self.canvas.setFont(font, size)
        self.canvas.drawString(self.edge, y, fit_text(words, self.room, size, font))
        return y

    def _draw_reason(self, tag, top, bottom):
        """Why, who and when, as large as they fit between `top` and `bottom`."""
        who = f"Withdrawn from use by {tag.by}, {long_date(tag.on)}" if tag.by else f"Withdrawn {long_date(tag.on)}"
        size = 0.075 * self.width
        while True:
            why = _broken(printable(tag.reason), self.room, size)
            by = _broken(printable(who), self.room, 0.8 * size)
            needed = 1.2 * size * len(why) + 0.96 * size * len(by) + 0.5 * size
            if needed <= top - bottom or size <= LEAST:
                break
            size *= 0.95
        y = self._lines(why, top, size, SEMIBOLD)
        self._lines(by, y - 0.5 * size, 0.8 * size, REGULAR)

    def _lines(self, lines, y, size, font):
        self.canvas.setFillColor(INK)
        self.canvas.setFont(font, size)
        for words in lines:
            y -= 1.2 * size
            self.canvas.drawString(self.edge, y, words)
        return y

    def _draw_foot(self, tag, bottom, side):
        """The code, whom to call, and who may remove the tag."""
        draw_code(self.canvas, tag.url, self.width - self.edge - side + 0.02 * self.width, bottom, side)
        left, room = self.edge, self.room - side
        size = 0.042 * self.width
        y = bottom + side - 0.04 * self.width
        parts = [(UNTIL, REGULAR)]
        if tag.phone:
            parts = [("Biomedical department", REGULAR), (tag.phone, SEMIBOLD), ("", REGULAR), *parts]
        for words, font in parts:
            self.canvas.setFillColor(INK)
            self.canvas.setFont(font, size)
            for line in _broken(printable(words), room, size, font) or [""]:
                if y > bottom:
                    self.canvas.drawString(left, y, line)
                y -= 1.25 * size
        renderPDF.draw(wordmark(0.06 * self.width), self.canvas, self.edge, bottom - 0.08 * self.width)
        self.canvas.setFont(REGULAR, 0.026 * self.width)
        for number, words in enumerate((QUALIFIED, COMES_FIRST)):
            self.canvas.drawString(
                self.edge + 0.19 * self.width, bottom - (0.045 + 0.032 * number) * self.width,
                fit_text(words, self.room - 0.19 * self.width, 0.026 * self.width),
            )  # fmt: skip


def _broken(text, width, size, font=SEMIBOLD):
    """Return the whole text in lines no wider than `width`; a word that is too long is broken."""
    lines, line = [], ""
    for word in text.split():
        while text_width(word, size, font) > width:
            taken = len(fit_text(word, width, size, font)) - 1 or 1
            lines += [line] if line else []
            lines.append(word[:taken])
            line, word = "", word[taken:]
        longer = f"{line} {word}".strip()
        if text_width(longer, size, font) <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    return [*lines, line] if line else lines
