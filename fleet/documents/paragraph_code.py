"""The lines of a plain paragraph: found and written into a page as reportlab does, with less around each."""

from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.pdfbase.pdfmetrics import getAscentDescent, getFont, stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from fleet.documents.drawing_code import colour_code

SQUEEZED = -1e-8  # points: a line that is wider than its room by more than this has narrower spaces


def only_line(paragraph: Paragraph, room: float):
    """Return what `breakLines` returns of a plain text that fits on one line of `room` points; None for another one."""
    (fragment,) = paragraph.frags
    font, size = fragment.fontName, fragment.fontSize
    taken = stringWidth(fragment.text, font, size)
    if taken > room:
        return None
    ascent, descent = getAscentDescent(font, size)
    paragraph._width_max = taken
    return fragment.clone(
        kind=0, lines=[(room - taken, fragment.text.split(" "))], ascent=ascent, descent=descent, fontSize=size
    )


def draw_lines(paragraph: Paragraph, canvas: Canvas, x: float, y: float) -> bool:
    """Draw a paragraph whose lines are broken with its lower left corner at x and y, in points.

    Return False, and draw nothing, for one that needs more than lines of one font set from one side: several fragments,
    a bullet, a ground, or spaces narrowed to fit.
    """
    broken, style = paragraph.blPara, paragraph.style
    if not _is_simple(paragraph, broken, style):
        return False
    if not broken.lines:
        return True
    left, base = style.leftIndent, paragraph.height - broken.fontSize
    code = [f"q 1 0 0 1 {x:.2f} {y:.2f} cm {colour_code(broken.textColor)} rg BT 1 0 0 1 {left:.2f} {base:.2f} Tm"]
    written = _Letters(getFont(broken.fontName), broken.fontSize, style.leading, canvas)
    for number, (room, words) in enumerate(broken.lines):
        if style.alignment == TA_RIGHT:
            code.append(f"1 0 0 1 {left + room:.2f} {base - number * style.leading:.2f} Tm")
        code.append(f"{written.code(' '.join(words))} T*")
    canvas._code.append(f"{' '.join(code)} ET Q")
    return True


def _is_simple(paragraph, broken, style):
    return (
        broken.kind == 0
        and style.alignment in (TA_LEFT, TA_RIGHT)
        and not (paragraph.bulletText or style.backColor or style.borderWidth or style.firstLineIndent)
        and not (broken.lines and (broken.us_lines or broken.link))
        and all(room > SQUEEZED for room, _ in broken.lines)
    )


class _Letters:
    """Writes texts of one size in the parts of a font that the document holds, naming a part where it changes."""

    def __init__(self, font, size, leading, canvas):
        self.font, self.canvas, self.part = font, canvas, None
        self.size = f"{size:.2f} Tf {leading:.2f} TL"

    def code(self, words):
        written = []
        for part, letters in self.font.splitString(words, self.canvas._doc):
            if part != self.part:
                written.append(f"{self.font.getSubsetInternalName(part, self.canvas._doc)} {self.size}")
                self.part = part
            written.append(f"({self.canvas._escape(letters)}) Tj")
        return " ".join(written)
