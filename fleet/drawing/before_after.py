"""Numbers before and after, a pair of bars for each line: outlined before, filled after."""

from collections.abc import Sequence
from typing import NamedTuple

from reportlab.graphics.shapes import Drawing

from .fonts import REGULAR, fit_text
from .shapes import box, label, rule
from .theme import ACCENT, ALARM, EDGE, INK, SHEET, SOFT

LINE_OF_TEXT = 2.5  # height of one pair, in sizes of the text


class Pair(NamedTuple):
    """One line: what is counted, its number before and after."""

    words: str
    before: int
    after: int


def before_and_after(pairs: Sequence[Pair], *, width: float = 760, text: float = 13) -> Drawing:
    """Draw the pairs below each other, with their numbers at the ends of the bars; a rise is in the colour of alarms.

    width and text in points, which are pixels on a page; the height follows from the number of pairs.
    """
    step, foot = text * LINE_OF_TEXT, text * 2.4
    drawing = Drawing(width, max(1, len(pairs)) * step + foot)
    drawing.add(box(0, 0, width, drawing.height, SHEET))
    left = width * 0.3
    highest = max((max(pair.before, pair.after) for pair in pairs), default=0) or 1
    scale = (width - left - text * 4.5) / highest
    for place, pair in enumerate(pairs):
        _draw_pair(drawing, pair, left, drawing.height - (place + 1) * step, scale, text)
    drawing.add(rule(left, foot, left, drawing.height, colour=EDGE, width=0.8))
    _draw_key(drawing, left, text)
    return drawing


def _draw_pair(drawing, pair, left, bottom, scale, text):
    bar, colour = text * 0.85, ALARM if pair.after > pair.before else ACCENT
    words = fit_text(pair.words, left - text, text, REGULAR)
    drawing.add(label(left - text * 0.6, bottom + text * 0.6, words, text, anchor="end"))
    drawing.add(box(left, bottom + bar + 2, pair.before * scale, bar, SHEET, stroke=INK, stroke_width=0.9))
    drawing.add(box(left, bottom, pair.after * scale, bar, colour))
    for number, y in ((pair.before, bottom + bar + 2), (pair.after, bottom)):
        drawing.add(label(left + number * scale + text * 0.4, y + 1, str(number), text * 0.85, colour=SOFT))


def _draw_key(drawing, left, text):
    x = left
    for words, fill, stroke in (
        ("before", SHEET, INK),
        ("after", ACCENT, None),
        ("after, more than before", ALARM, None),
    ):
        drawing.add(box(x, 4, text * 0.9, text * 0.7, fill, stroke=stroke, stroke_width=0.9))
        drawing.add(label(x + text * 1.2, 4, words, text * 0.85))
        x += text * (2.6 + 0.5 * len(words))


def describe_before_and_after(pairs: Sequence[Pair]) -> str:
    """Return the picture in words."""
    words = [f"{pair.words}: {pair.before} before, {pair.after} after" for pair in pairs]
    return f"{'; '.join(words)}." if words else "Nothing is counted."
