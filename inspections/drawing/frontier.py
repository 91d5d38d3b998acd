"""The exposure that is left for each sum of money: one curve, the sum asked for marked on it."""

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing, PolyLine

from fleet.drawing import ACCENT, INK, SOFT, label_inside, nice_ticks, point_marker, rule
from fleet.place_format import counted

from .plot import Field, draw_field, draw_sheet, draw_x_graduations, left_width


@dataclass(frozen=True, slots=True)
class FrontierPoint:
    """A sum a year in whole money, what it leaves open at best, and below which no plan whatever comes."""

    yearly: float
    left: float
    bound: float
    is_asked: bool = False


def describe_frontier(points: Sequence[FrontierPoint], currency: str) -> str:
    """Return the picture as one sentence."""
    words = [f"{counted(round(each.yearly))} {currency} leaves {counted(round(each.left))}" for each in points]
    return f"Exposure left for each sum a year: {', '.join(words)}." if words else "No sums were computed."


def frontier_drawing(
    points: Sequence[FrontierPoint],
    *,
    currency: str,
    unit: str,
    width: float = 640,
    height: float = 280,
    text: float = 13,
) -> Drawing:
    """Draw what is left against the money of a year; width, height, text in points (pixels on a page)."""
    field = _field(points, width, height, text)
    draw_sheet(field)
    draw_field(field, f"{currency} a year", f"Exposure left, {unit}")
    ticks = nice_ticks(*field.x_range, max(2, int((field.right - field.left) / (text * 8))))
    draw_x_graduations(field, ticks, [counted(round(tick)) for tick in ticks])
    for each in points:
        if each.is_asked:
            _mark_asked(field, each)
    _line(field, [(each.yearly, each.bound) for each in points], SOFT, 0.9, [2, 3])
    _line(field, [(each.yearly, each.left) for each in points], ACCENT, 1.4, None)
    for each in points:
        field.drawing.add(point_marker(0, field.x(each.yearly), field.y(each.left), text * 0.6, colour=ACCENT))
    return field.drawing


def _field(points, width, height, text):
    most = max((each.left for each in points), default=0) or 1.0
    y_range, bottom, top = (0.0, most * 1.1), text * 3.4, height - text * 2.2
    left = min(left_width(y_range, top - bottom, text), width * 0.3)
    x_range = (0.0, max((each.yearly for each in points), default=0) * 1.03 or 1.0)
    return Field(Drawing(width, height), text, x_range, y_range, left, width - text, bottom, top)


def _line(field, points, colour, width, dash):
    places = [part for x, y in points for part in (field.x(x), field.y(y))]
    if len(points) > 1:
        field.drawing.add(PolyLine(places, strokeColor=colour, strokeWidth=width, strokeDashArray=dash, fillColor=None))


def _mark_asked(field, point):
    x = field.x(point.yearly)
    field.drawing.add(rule(x, field.bottom, x, field.top, colour=INK, width=0.9, dash=[4, 3]))
    y = field.top - field.text * 1.3
    field.drawing.add(
        label_inside(x + field.text * 3.6, y, "sum asked for", field.text, 0, field.drawing.width, colour=INK)
    )
