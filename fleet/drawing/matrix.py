"""The cover matrix on paper: machines down, features across, one mark in each cell. The caller splits it into pages."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, cos, floor, radians, sin

from reportlab.graphics.shapes import Drawing, Group

from .fonts import REGULAR, SEMIBOLD, fit_text, text_width
from .marks import mark
from .shapes import label, rule
from .theme import LINE, SOFT

TURN_DEGREES = 60
ROW = 1.75  # of the text size
HEAD_LIMIT = 16.0  # of the text size


@dataclass(frozen=True, slots=True)
class MatrixColumn:
    """A feature: its name, and whether it is set in semibold (the essential ones)."""

    label: str
    essential: bool = False


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """A machine: its name, a second text, and one state for each column.

    states  "fitted", "not fitted", "not known", "unwanted", or "" if the feature does not apply
    """

    label: str
    note: str
    states: tuple[str, ...]


def rows_that_fit(height: float, columns: Sequence[MatrixColumn], text: float = 8) -> int:
    """Return the number of machines that fit a drawing of this height in points, 0 if not even the head fits."""
    return max(0, floor((height - _head_height(columns, text)) / (ROW * text)))


def matrix(rows: Sequence[MatrixRow], columns: Sequence[MatrixColumn], width: float, text: float = 8) -> Drawing:
    """Draw one page of the matrix, `width` points wide and as high as its rows need.

    Raises ValueError if a row has not one state for each column.
    """
    for row in rows:
        if len(row.states) != len(columns):
            raise ValueError(f'Row "{row.label}" has {len(row.states)} states for {len(columns)} columns.')
    head, pitch = _head_height(columns, text), ROW * text
    drawing = Drawing(ceil(width), ceil(head + pitch * len(rows) + 1))
    top = drawing.height - head
    names, step = _column_places(columns, width, text)
    for index, column in enumerate(columns):
        drawing.add(_turned(column, names + step * (index + 0.5), top, head, text))
    drawing.add(rule(0, top, width, top, width=1.2))
    for number, row in enumerate(rows, 1):
        _draw_row(drawing, row, top - pitch * number, names, step, width, text)
    return drawing


def _head_height(columns, text):
    return min(HEAD_LIMIT * text, max((_head_reach(column, text) for column in columns), default=0)) + text


def _head_reach(column, text):
    return text_width(column.label, text, _font(column)) * sin(radians(TURN_DEGREES)) + text


def _font(column):
    return SEMIBOLD if column.essential else REGULAR


def _column_places(columns, width, text):
    """Return the left edge and the width of the columns; the slanted heads need room at the right."""
    head = _head_height(columns, text)
    lean = head / sin(radians(TURN_DEGREES)) * cos(radians(TURN_DEGREES))
    names = min(width * 0.34, 22 * text)
    step = (width - names - lean) / max(len(columns), 1)
    return names, min(step, 3 * text)


def _turned(column, x, y, head, text):
    turn = radians(TURN_DEGREES)
    words = fit_text(column.label, (head - text * 1.4) / sin(turn), text, _font(column))
    group = Group(transform=(cos(turn), sin(turn), -sin(turn), cos(turn), x + text * 0.3, y + text * 0.5))
    group.add(label(0, 0, words, text, font=_font(column)))
    return group


def _draw_row(drawing, row, y, names, step, width, text):
    drawing.add(rule(0, y, width, y, colour=LINE, width=0.5))
    name = fit_text(row.label, names * 0.6, text, SEMIBOLD)
    drawing.add(label(0, y + text * 0.5, name, text, font=SEMIBOLD))
    at = text_width(name, text, SEMIBOLD) + text * 0.7
    drawing.add(label(at, y + text * 0.5, fit_text(row.note, names - at - text * 0.5, text), text, colour=SOFT))
    size = min(text * 1.45, step / 1.2)
    for index, state in enumerate(row.states):
        if state:
            x = names + step * (index + 0.5) - size * 0.6
            drawing.add(mark(state, x, y + (ROW * text - size) / 2, size))
