"""The DO NOT USE tag of a withdrawn machine: A6 to hang on it, or 62 x 100 mm from a label printer."""

from dataclasses import dataclass
from datetime import date

from reportlab.graphics import renderPDF
from reportlab.lib.units import mm

from fleet.caution import COMES_FIRST, QUALIFIED
from fleet.characters import printable
from fleet.days import long_date
from fleet.documents import small_pdf, tagged, untagged
from fleet.drawing import ALARM, INK, REGULAR, SEMIBOLD, fit_text, text_width, wordmark
from inspections.reports.label import draw_code

SIZES = {"a6": (105 * mm, 148 * mm), "label": (62 * mm, 100 * mm)}
TITLE = ("DO NOT", "USE")
LEAST = 4.0  # points, for a very long text
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
    title = f"DO NOT USE: machine {tag.asset_number}"
    return small_pdf(
        SIZES[size], title=title, subject=tag.url, draw=lambda canvas: _Sheet(canvas, *SIZES[size]).draw(tag)
    )


class _Sheet:
    """One tag. All lengths are shares of the width, so that both sizes look alike."""

    def __init__(self, canvas, width, height):
        self.canvas, self.width, self.height = canvas, width, height
        self.edge = 0.05 * width
        self.room = width - 2 * self.edge

    def draw(self, tag):
        with untagged(self.canvas):
            self._draw_bands()
        y = self._draw_title(self.height - 0.08 * self.width)
        y = self._line(tag.asset_number, y - 0.02 * self.width, 0.09, SEMIBOLD)
        y = self._line(tag.model, y, 0.045, REGULAR)
        side = 0.31 * self.width
        bottom = 0.18 * self.width
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
        size = 0.24 * self.width
        self.canvas.setFillColor(INK)
        with tagged(self.canvas, "H1"):
            for words in TITLE:
                y -= 0.9 * size
                self.canvas.setFont(SEMIBOLD, size)
                self.canvas.drawString(self.edge, y, words)
        with untagged(self.canvas):
            self._draw_cross(self.width - self.edge - 0.95 * size, y - 0.05 * size, 0.8 * size)
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
        with tagged(self.canvas, "P"):
            self.canvas.drawString(self.edge, y, fit_text(words, self.room, size, font))
        return y

    def _draw_reason(self, tag, top, bottom):
        who = f"Withdrawn from use by {tag.by}, {long_date(tag.on)}" if tag.by else f"Withdrawn {long_date(tag.on)}"
        self._fill([(tag.reason, SEMIBOLD, 1), (who, REGULAR, 0.8)], self.room, top, bottom, 0.075)

    def _draw_foot(self, tag, bottom, side):
        """The code, whom to call, and who may remove the tag."""
        draw_code(self.canvas, tag.url, self.width - self.edge - side + 0.02 * self.width, bottom, side)
        call = [("Biomedical department", REGULAR, 1), (tag.phone, SEMIBOLD, 1.2)] if tag.phone else []
        room = self.room - side
        self._fill([*call, (UNTIL, REGULAR, 1)], room, bottom + side - 0.03 * self.width, bottom, 0.042)
        with untagged(self.canvas):
            renderPDF.draw(wordmark(0.06 * self.width), self.canvas, self.edge, bottom - 0.08 * self.width)
        self.canvas.setFont(REGULAR, 0.026 * self.width)
        words = _broken(f"{QUALIFIED} {COMES_FIRST}", self.room - 0.19 * self.width, 0.026 * self.width, REGULAR)
        with tagged(self.canvas, "P"):
            for number, line in enumerate(words):
                y = bottom - (0.045 + 0.032 * number) * self.width
                self.canvas.drawString(self.edge + 0.19 * self.width, y, line)

    def _fill(self, parts, room, top, bottom, share):
        """Draw paragraphs of (text, font, relative size) as large as all of them fit between `top` and `bottom`."""
        size = share * self.width
        while True:
            broken = [(_broken(printable(text), room, part * size, font), font, part * size)
                      for text, font, part in parts]  # fmt: skip
            needed = sum(1.2 * of_part * len(lines) + 0.4 * size for lines, _, of_part in broken)
            if needed <= top - bottom or size <= LEAST:
                break
            size *= 0.95
        self.canvas.setFillColor(INK)
        y = top
        for lines, font, of_part in broken:
            self.canvas.setFont(font, of_part)
            with tagged(self.canvas, "P"):
                for line in lines:
                    y -= 1.2 * of_part
                    self.canvas.drawString(self.edge, y, line)
            y -= 0.4 * size


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
