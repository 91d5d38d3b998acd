"""A grid of numbers: a row and a column for each thing, cells shaded by a share, alarming ones marked."""

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import Color

from .fonts import REGULAR, SEMIBOLD, fit_text, text_width
from .shapes import box, label, rule
from .theme import ACCENT, ALARM, ALARM_WASH, INK, LINE, SHEET, SOFT

CELL = 1.75  # height of a row, in sizes of the text
DARK = 0.6  # share from which on the number in a cell is written in white


@dataclass(frozen=True, slots=True)
class Cell:
    """One number. share 0 to 1 shades it; `is_alarm` draws it in the colour of alarms with a frame and “!”."""

    words: str = ""
    share: float = 0.0
    is_alarm: bool = False


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row. `mark` is the column, as a number with a fraction, at which an upright stroke stands; None for none."""

    words: str
    cells: tuple[Cell, ...]
    mark: float | None = None


def grid(
    columns: Sequence[str],
    rows: Sequence[GridRow],
    *,
    width: float = 1180,
    text: float = 12,
    key: str = "",
) -> Drawing:
    """Draw the grid; all rows have as many cells as there are columns. `key` is the sentence below it.

    width and text in points, which are pixels on a page; the height follows from the rows.
    """
    step, head, foot = text * CELL, text * 2.0, text * 2.0 if key else text * 0.4
    drawing = Drawing(width, head + foot + step * max(1, len(rows)))
    drawing.add(box(0, 0, width, drawing.height, SHEET))
    left = min(width * 0.3, max((text_width(row.words, text, REGULAR) for row in rows), default=0) + text * 1.4)
    across = (width - left - text * 0.3) / max(1, len(columns))
    _draw_head(drawing, columns, left, across, text)
    for place, row in enumerate(rows):
        _draw_row(drawing, row, left, drawing.height - head - (place + 1) * step, across, text)
    if key:
        drawing.add(label(left, text * 0.5, fit_text(key, width - left, text * 0.9), text * 0.9, colour=SOFT))
    return drawing


def _draw_head(drawing, columns, left, across, text):
    widest = max((text_width(words, text * 0.9) for words in columns), default=0) + text * 0.6
    every = max(1, -int(-widest // across))
    for place in range(0, len(columns), every):
        drawing.add(label(left + place * across, drawing.height - text * 1.4, columns[place], text * 0.9, colour=SOFT))


def _draw_row(drawing, row, left, bottom, across, text):
    height = text * CELL
    words = fit_text(row.words, left - text, text)
    drawing.add(label(left - text * 0.6, bottom + text * 0.5, words, text, anchor="end"))
    drawing.add(rule(left, bottom, drawing.width, bottom, colour=LINE, width=0.5))
    for place, cell in enumerate(row.cells):
        _draw_cell(drawing, cell, left + place * across, bottom, across, height, text)
    if row.mark is not None:
        x = left + row.mark * across
        drawing.add(rule(x, bottom, x, bottom + height, colour=ALARM, width=2.2))


def _draw_cell(drawing, cell, x, bottom, across, height, text):
    if not cell.words and not cell.share:
        return
    fill, colour = _shade(cell.share), SHEET if cell.share >= DARK else INK
    if cell.is_alarm:
        fill, colour = ALARM_WASH, ALARM
    stroke = ALARM if cell.is_alarm else None
    drawing.add(box(x + 0.5, bottom + 0.5, across - 1, height - 1, fill, stroke=stroke, stroke_width=0.9))
    size, words = text * 0.85, f"{cell.words}!" if cell.is_alarm else cell.words
    if words and text_width(words, size, SEMIBOLD) <= across:
        drawing.add(
            label(x + across / 2, bottom + height * 0.32, words, size, anchor="middle", colour=colour, font=SEMIBOLD)
        )


def _shade(share):
    """Return a colour between the sheet and the accent."""
    part = 0.08 + 0.92 * min(max(share, 0.0), 1.0)
    mixed = [low + part * (high - low) for low, high in zip(SHEET.rgb(), ACCENT.rgb(), strict=True)]
    return Color(*mixed)


def describe_grid(columns: Sequence[str], rows: Sequence[GridRow]) -> str:
    """Return the picture in words: for each row the columns that are not empty, at most the last eight."""
    sentences = []
    for row in rows:
        told = [f"{column} {cell.words}{' (!)' if cell.is_alarm else ''}"
                for column, cell in zip(columns, row.cells, strict=True) if cell.words]  # fmt: skip
        sentences.append(f"{row.words}: {', '.join(told[-8:]) or 'nothing'}.")
    return " ".join(sentences) or "There is nothing to show."


__all__ = ["Cell", "GridRow", "describe_grid", "grid"]
