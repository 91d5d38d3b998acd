"""Pictures of what was measured, for page and paper alike. Plain Python; each returns a reportlab drawing.

The `_svg` functions are what pages use: the same drawing, ready to be placed inline, with its description.
"""

from collections.abc import Sequence

from fleet.drawing import to_svg
from inspections.bench import Curve, Result

from .curve import curve, describe_curve
from .frontier import FrontierPoint, describe_frontier, frontier_drawing
from .limit_bar import describe_result, limit_bar, limit_texts, margin_figure, side_words, value_text
from .trend import Forecast, TrendPoint, describe_trend, trend
from .week_load import LoadRow, WeekBar, describe_week_load, week_load, weeks_before_and_after

__all__ = [
    "Forecast",
    "FrontierPoint",
    "LoadRow",
    "TrendPoint",
    "WeekBar",
    "curve",
    "curve_svg",
    "describe_curve",
    "describe_frontier",
    "describe_result",
    "describe_trend",
    "frontier_drawing",
    "frontier_svg",
    "describe_week_load",
    "limit_bar",
    "limit_bar_svg",
    "limit_texts",
    "margin_figure",
    "side_words",
    "trend",
    "trend_svg",
    "value_text",
    "week_load",
    "weeks_before_and_after",
]


def limit_bar_svg(result: Result, width: float = 420, text: float = 13, key: str = "") -> str:
    """Return `limit_bar` as inline SVG; `key` tells apart equal pictures on one page."""
    return to_svg(limit_bar(result, width, text), result.label, describe_result(result), key)


def curve_svg(picture: Curve, width: float = 640, height: float = 320, text: float = 13, key: str = "") -> str:
    """Return `curve` as inline SVG."""
    return to_svg(curve(picture, width, height, text), picture.title, describe_curve(picture), key)


def trend_svg(points: Sequence[TrendPoint], *, title: str, unit: str, key: str = "", **options) -> str:
    """Return `trend` as inline SVG; options as for `trend`."""
    return to_svg(trend(points, title=title, unit=unit, **options), title, describe_trend(points, title, unit), key)


def frontier_svg(points: Sequence[FrontierPoint], *, currency: str, unit: str, **options) -> str:
    """Return `frontier_drawing` as inline SVG; options as for it."""
    drawing = frontier_drawing(points, currency=currency, unit=unit, **options)
    return to_svg(drawing, "Exposure left for each sum a year", describe_frontier(points, currency))
