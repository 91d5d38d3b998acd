"""The errors that a certificate states over a scale, between the bounds of the instrument's accuracy."""

from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing, Polygon, PolyLine

from .fonts import REGULAR, text_width
from .numbers import nice_ticks, number, tick_texts
from .shapes import box, label, point_marker, rule
from .theme import ACCENT, ACCENT_WASH, EDGE, INK, LINE, SHEET, SOFT

FOUND_MARK, LEFT_MARK = 4, 0  # a ring for as found, a disc for as left: they differ without colour
WITH_NOTES = 1.25


@dataclass(frozen=True, slots=True)
class ErrorSeries:
    """Points (reading, error, expanded uncertainty) with the words for them; is_found chooses the marker."""

    words: str
    points: tuple[tuple[float, float, float], ...]
    is_found: bool


@dataclass(frozen=True, slots=True)
class ErrorCurve:
    """Errors over a scale in one unit; band holds (reading, half width of the accuracy), empty if none is stated."""

    title: str
    unit: str
    band: tuple[tuple[float, float], ...]
    series: tuple[ErrorSeries, ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    left: float
    right: float
    bottom: float
    top: float

    def x(self, value: float) -> float:
        return self.left + (value - self.x_range[0]) / (self.x_range[1] - self.x_range[0]) * (self.right - self.left)

    def y(self, value: float) -> float:
        share = (value - self.y_range[0]) / (self.y_range[1] - self.y_range[0])
        return self.bottom + min(max(share, 0.0), 1.0) * (self.top - self.bottom)


def describe_errors(curve: ErrorCurve) -> str:
    """Return the picture as a text: what is drawn, and every point."""
    parts = [
        f"{one.words}: " + "; ".join(f"{number(e)} ± {number(u)} at {number(x)}" for x, e, u in one.points)
        for one in curve.series
    ]
    band = "The shaded band is the accuracy." if curve.band else "No accuracy is stated."
    return f"Error in {curve.unit} against reading in {curve.unit}. {'. '.join(parts)}. {band}"


def error_curve(curve: ErrorCurve, width: float = 640, height: float = 300, text: float = 13) -> Drawing:
    """Draw the errors with their uncertainties, as found and as left, over the band of the accuracy.

    width, height, text  in points (pixels on a page)
    """
    drawing, frame = Drawing(width, height), _frame(curve, width, height, text)
    drawing.add(box(frame.left, frame.bottom, frame.right - frame.left, frame.top - frame.bottom, SHEET))
    _draw_band(drawing, frame, curve.band)
    _draw_axes(drawing, frame, curve.unit, text)
    for place, series in enumerate(curve.series):
        _draw_series(drawing, frame, series, text)
        _draw_key(drawing, frame, curve, place, text)
    return drawing


def _frame(curve, width, height, text):
    xs = [x for x, _ in curve.band] + [x for one in curve.series for x, _, _ in one.points]
    reach = [half for _, half in curve.band] + [abs(e) + u for one in curve.series for _, e, u in one.points]
    high = max(reach, default=0.0) * WITH_NOTES or 1.0
    low_x, high_x = min(xs, default=0.0), max(xs, default=1.0)
    room = 0.03 * (high_x - low_x) or 1.0
    ticks = tick_texts(nice_ticks(-high, high, 5))
    left = max(text_width(one, text * 0.95, REGULAR) for one in ticks) + text
    ends = (low_x - room, high_x + room), (-high, high)
    return _Frame(*ends, left, width - text * 0.8, text * 3.2, height - text * 3.2)


def _draw_band(drawing, frame, band):
    if len(band) > 1:
        above = [part for x, half in band for part in (frame.x(x), frame.y(half))]
        below = [part for x, half in reversed(band) for part in (frame.x(x), frame.y(-half))]
        drawing.add(Polygon([*above, *below], fillColor=ACCENT_WASH, strokeColor=None))
        for way in (1, -1):
            line = [part for x, half in band for part in (frame.x(x), frame.y(way * half))]
            drawing.add(PolyLine(line, strokeColor=EDGE, strokeWidth=1.1, strokeDashArray=[5, 3], fillColor=None))


def _draw_axes(drawing, frame, unit, text):
    ticks = nice_ticks(*frame.y_range, max(2, int((frame.top - frame.bottom) / (text * 2.6))))
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        y = frame.y(tick)
        drawing.add(rule(frame.left, y, frame.right, y, colour=INK if tick == 0 else LINE, width=0.8))
        drawing.add(label(frame.left - text * 0.5, y - text * 0.32, words, text * 0.95, anchor="end", colour=SOFT))
    ticks = nice_ticks(*frame.x_range, max(2, int((frame.right - frame.left) / (text * 6))))
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        x = frame.x(tick)
        drawing.add(rule(x, frame.bottom, x, frame.bottom - text * 0.4))
        drawing.add(label(x, frame.bottom - text * 1.4, words, text * 0.95, anchor="middle", colour=SOFT))
    drawing.add(rule(frame.left, frame.bottom, frame.left, frame.top, width=1.1))
    drawing.add(rule(frame.left, frame.bottom, frame.right, frame.bottom, width=1.1))
    drawing.add(label(0, drawing.height - text, f"Error, {unit}", text))
    drawing.add(label(frame.right, text * 0.4, f"Reading, {unit}", text, anchor="end"))


def _draw_series(drawing, frame, series, text):
    colour, kind = (INK, FOUND_MARK) if series.is_found else (ACCENT, LEFT_MARK)
    points = sorted(series.points)
    places = [part for x, error, _ in points for part in (frame.x(x), frame.y(error))]
    if len(points) > 1:
        dash = [4, 3] if series.is_found else None
        drawing.add(PolyLine(places, strokeColor=colour, strokeWidth=1.2, strokeDashArray=dash, fillColor=None))
    for x, error, expanded in points:
        low, high = frame.y(error - expanded), frame.y(error + expanded)
        drawing.add(rule(frame.x(x), low, frame.x(x), high, colour=colour, width=1.2))
        for end in (low, high):
            drawing.add(rule(frame.x(x) - 3, end, frame.x(x) + 3, end, colour=colour, width=1.2))
        drawing.add(point_marker(kind, frame.x(x), frame.y(error), text * 0.6, colour=colour))


def _draw_key(drawing, frame, curve, place, text):
    """Set the words of a series at the top right, beside its marker; the first leftmost."""
    widths = [text_width(one.words, text, REGULAR) + text * 2.2 for one in curve.series]
    x, series = frame.right - sum(widths[place:]) + text, curve.series[place]
    colour, kind = (INK, FOUND_MARK) if series.is_found else (ACCENT, LEFT_MARK)
    y = frame.top + text * 0.9
    drawing.add(point_marker(kind, x, y + text * 0.35, text * 0.6, colour=colour))
    drawing.add(label(x + text * 0.6, y, series.words, text, colour=INK))
