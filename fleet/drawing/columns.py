"""Columns over time: a part of each filled, its share written above."""

from collections.abc import Sequence
from typing import NamedTuple

from reportlab.graphics.shapes import Drawing

from .fonts import SEMIBOLD, text_width
from .numbers import nice_ticks, tick_texts
from .shapes import box, hatch, label, rule
from .theme import ACCENT, EDGE, INK, LINE, SHEET, SOFT


class Column(NamedTuple):
    """One column: its words below, the filled part, the whole, and what is written above it."""

    words: str
    part: float
    whole: float
    above: str = ""


def columns_over_time(
    columns: Sequence[Column], *, part: str, rest: str, width: float = 1180, height: float = 260, text: float = 12
) -> Drawing:
    """Draw the columns; `part` and `rest` name the filled part and the hatched remainder in the key."""
    drawing = Drawing(width, height)
    drawing.add(box(0, 0, width, height, SHEET))
    left, right, bottom, top = text * 3.2, width - text * 0.5, text * 3.6, height - text * 1.6
    highest = max((column.whole for column in columns), default=0) or 1
    scale = (top - bottom) / highest
    ticks = nice_ticks(0, highest, 4)
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        y = bottom + tick * scale
        drawing.add(rule(left, y, right, y, colour=LINE, width=0.6))
        drawing.add(label(left - text * 0.4, y - text * 0.3, words, text * 0.9, anchor="end", colour=SOFT))
    step = (right - left) / max(1, len(columns))
    for place, column in enumerate(columns):
        _draw_column(drawing, column, left + place * step, step, bottom, scale, text)
    drawing.add(rule(left, bottom, right, bottom, colour=EDGE, width=0.8))
    _draw_words(drawing, columns, left, step, bottom, text)
    _draw_key(drawing, part, rest, left, text)
    return drawing


def _draw_column(drawing, column, x, step, bottom, scale, text):
    bar = step * 0.72
    filled, whole = column.part * scale, column.whole * scale
    drawing.add(box(x, bottom, bar, filled, ACCENT))
    if whole > filled:
        drawing.add(box(x, bottom + filled, bar, whole - filled, SHEET, stroke=EDGE, stroke_width=0.6))
        drawing.add(hatch(x, bottom + filled, x + bar, whole - filled, gap=4.0))
    if column.above and text_width(column.above, text * 0.85, SEMIBOLD) <= step * 1.05:
        words = label(x + bar / 2, bottom + whole + 2, column.above, text * 0.85, anchor="middle", font=SEMIBOLD)
        drawing.add(words)


def _draw_words(drawing, columns, left, step, bottom, text):
    widest = max((text_width(column.words, text * 0.85) for column in columns), default=0) + text * 0.5
    every = max(1, -int(-widest // step))
    for place in range(0, len(columns), every):
        x = left + place * step
        drawing.add(label(x, bottom - text * 1.2, columns[place].words, text * 0.85, colour=INK))


def _draw_key(drawing, part, rest, left, text):
    x = left
    for words, is_part in ((part, True), (rest, False)):
        drawing.add(box(x, 3, 10, 8, ACCENT if is_part else SHEET, stroke=EDGE, stroke_width=0.6))
        if not is_part:
            drawing.add(hatch(x, 3, x + 10, 8, gap=3.0))
        drawing.add(label(x + 14, 3, words, text * 0.85))
        x += 40 + text_width(words, text * 0.85)


def describe_columns(columns: Sequence[Column], *, part: str, rest: str) -> str:
    """Return the picture in words."""
    words = [
        f"{column.words}: {column.part:g} of {column.whole:g}{f' ({column.above})' if column.above else ''}"
        for column in columns
    ]
    return f"{part} and {rest}. {'; '.join(words)}." if words else "There is nothing to show."
