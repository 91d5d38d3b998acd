"""The last results of one quantity over time, with their uncertainty, the limits and, if given, a forecast."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from reportlab.graphics.shapes import Drawing, PolyLine

from fleet.days import long_date
from fleet.drawing import (
    ACCENT,
    ACCENT_WASH,
    INK,
    SEMIBOLD,
    SOFT,
    box,
    number,
    point_marker,
    rule,
    text_width,
    with_uncertainty,
)

from .plot import (
    Field,
    SideLabel,
    draw_field,
    draw_sheet,
    draw_side_labels,
    draw_x_graduations,
    left_width,
    padded_range,
    side_width,
)


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """One result on one day: value and expanded uncertainty (0 if not known) in the display unit."""

    on: date
    value: float
    uncertainty: float = 0.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """A straight line from (start, from_value) to (end, to_value), in the display unit, and what it says.

    from_half, to_half  half the width of the interval about it at either end, 0 where none is stated
    """

    start: date
    from_value: float
    end: date
    to_value: float
    words: str = "forecast"
    from_half: float = 0.0
    to_half: float = 0.0


def describe_trend(points: Sequence[TrendPoint], title: str, unit: str) -> str:
    """Return the trend as one sentence."""
    if not points:
        return f"{title}: no results yet."
    shown = [
        f"{with_uncertainty(one.value, one.uncertainty)} {unit} on {long_date(one.on)}" for one in sorted_points(points)
    ]
    return f"{title}: {', '.join(shown)}."


def sorted_points(points: Sequence[TrendPoint]) -> list[TrendPoint]:
    """Return the points, the earliest first."""
    return sorted(points, key=lambda point: point.on)


def trend(
    points: Sequence[TrendPoint],
    *,
    title: str,
    unit: str,
    lower: float | None = None,
    upper: float | None = None,
    forecast: Forecast | None = None,
    width: float = 640,
    height: float = 240,
    text: float = 13,
) -> Drawing:
    """Draw results of one quantity over time; limits and values in one display unit; one point or none will do.

    width, height, text  in points (pixels on a page)
    Raises ValueError for a value that is not finite.
    """
    limits = [("at least", lower), ("at most", upper)]
    words = {f"{word} {number(value)} {unit}": value for word, value in limits if value is not None}
    points = sorted_points(points)
    side = [*words, *([forecast.words] if forecast else [])]
    field = _field(points, list(words.values()), forecast, side, ceil(width), ceil(height), text)
    draw_sheet(field)
    _draw_inside(field, lower, upper)
    draw_field(field, "", f"{title}, {unit}")
    ticks, texts = date_ticks(field, text)
    draw_x_graduations(field, ticks, texts)
    labels = _drawn_limits(field, words)
    if forecast:
        labels.append(_drawn_forecast(field, forecast))
    _draw_points(field, points)
    draw_side_labels(field, labels)
    return field.drawing


def _field(points, limits, forecast, side, width, height, text):
    days = [float(point.on.toordinal()) for point in points]
    values = limits + [point.value + sign * point.uncertainty for point in points for sign in (-1, 1)]
    if forecast:
        days += [float(forecast.start.toordinal()), float(forecast.end.toordinal())]
        values += [end for one in _ends(forecast) for end in one]
    y_range, bottom, top = padded_range(values, from_zero=True, share=0.12), text * 2.0, height - text * 2.0
    right = width - max(side_width(side, width, text), text)
    left = min(left_width(y_range, top - bottom, text), width * 0.3)
    return Field(Drawing(width, height), text, _day_range(days), y_range, left, right, bottom, top)


def _day_range(days):
    first, last = min(days, default=730_000.0), max(days, default=730_365.0)
    room = max((last - first) * 0.06, 45 if last == first else 5)
    return first - room, last + room


def _draw_inside(field, lower, upper):
    """Tint what lies within the limits, so that the eye finds the edge before it reads a number."""
    if lower is None and upper is None:
        return
    start = field.bottom if lower is None else field.y(lower)
    end = field.top if upper is None else field.y(upper)
    field.drawing.add(box(field.left, start, field.right - field.left, end - start, ACCENT_WASH))


def date_ticks(field: Field, text: float) -> tuple[list[float], list[str]]:
    """Return months or years as graduations, as many as fit: ordinals of their first days and their texts."""
    first, last = (date.fromordinal(int(end)) for end in field.x_range)
    room = max(2, int((field.right - field.left) / (text_width("Jan 2000", text) + text)))
    months = (last.year - first.year) * 12 + last.month - first.month + 1
    step = next((step for step in (1, 2, 3, 6, 12, 24, 60, 120) if months / step <= room), 600)
    start = first.year * 12 + first.month
    found = [month for month in range(start, start + months) if month % step == 0]
    days = [date(month // 12, month % 12 + 1, 1) for month in found if month // 12 <= 9999]
    days = days or [first + timedelta(days=(last - first).days // 2)]
    return [float(day.toordinal()) for day in days], [f"{day:%b %Y}" if step < 12 else f"{day:%Y}" for day in days]


def _drawn_limits(field, words):
    for value in words.values():
        field.drawing.add(rule(field.left, field.y(value), field.right, field.y(value), width=1.8))
    return [SideLabel(field.y(value), text, SEMIBOLD) for text, value in words.items()]


def _ends(forecast):
    """Return lower end, middle and upper end of the interval at the start, and at the end."""
    middles = ((forecast.from_value, forecast.from_half), (forecast.to_value, forecast.to_half))
    return [(middle - half, middle, middle + half) for middle, half in middles]


def _drawn_forecast(field, forecast):
    start, end = (field.x(float(day.toordinal())) for day in (forecast.start, forecast.end))
    for place, (from_value, to_value) in enumerate(zip(*_ends(forecast), strict=True)):
        is_middle = place == 1
        if is_middle or forecast.to_half > 0:
            y1, y2 = field.y(from_value), field.y(to_value)
            dash = [5, 3] if is_middle else [1.5, 3]
            field.drawing.add(rule(start, y1, end, y2, colour=SOFT, width=1.3 if is_middle else 0.9, dash=dash))
    return SideLabel(field.y(forecast.to_value), forecast.words, colour=SOFT)


def _draw_points(field, points):
    places = [(field.x(float(point.on.toordinal())), point) for point in points]
    line = [part for x, point in places for part in (x, field.y(point.value))]
    if len(points) > 1:
        field.drawing.add(PolyLine(line, strokeColor=ACCENT, strokeWidth=1.1, fillColor=None))
    for x, point in places:
        low, high = field.y(point.value - point.uncertainty), field.y(point.value + point.uncertainty)
        cap = field.text * 0.3
        for y in (low, high) if point.uncertainty > 0 else ():
            field.drawing.add(rule(x - cap, y, x + cap, y, colour=INK, width=0.9))
        field.drawing.add(rule(x, low, x, high, colour=INK, width=0.9))
        field.drawing.add(point_marker(0, x, field.y(point.value), field.text * 0.6, colour=ACCENT))
