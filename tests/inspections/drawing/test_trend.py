"""A trend shows each result on its day, with its uncertainty, against its limits."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis.strategies import builds, dates, floats, lists, none, one_of, text
from pytest import approx
from reportlab.graphics.shapes import Circle, Line, PolyLine, Rect

from fleet.drawing import ACCENT_WASH, SOFT
from inspections.drawing import Forecast, TrendPoint, describe_trend, trend, trend_svg
from tests.drawing_reader import shapes, stays_inside, svg_texts, texts

DAYS = dates(date(1990, 1, 1), date(2090, 1, 1))
VALUES = floats(-1e5, 1e5)
POINTS = [
    TrendPoint(date(2025, 1, 1), 28.0, 0.8),
    TrendPoint(date(2025, 7, 1), 27.0, 0.8),
    TrendPoint(date(2026, 1, 1), 26.0, 0.8),
]


def draw(points, **options):
    return trend(points, title="Trip pressure", unit="psi", **options)


def test_days_lie_along_the_paper_in_proportion_to_the_time_between_them():
    first, second, third = (disc.cx for disc in shapes(draw(POINTS), Circle))
    assert (second - first) / (third - first) == approx(181 / 365, abs=1e-6)


def test_values_lie_in_proportion_and_the_whiskers_reach_the_uncertainty():
    drawing = draw(POINTS)
    heights = [disc.cy for disc in shapes(drawing, Circle)]
    per_psi = heights[0] - heights[1]
    assert heights[1] - heights[2] == approx(per_psi)
    first = shapes(drawing, Circle)[0]
    whiskers = [line for line in shapes(drawing, Line) if line.x1 == line.x2 == first.cx and line.y2 > line.y1]
    assert [line.y2 - line.y1 for line in whiskers] == [approx(1.6 * per_psi)]


def test_the_order_in_which_results_come_does_not_matter():
    assert trend_svg(POINTS, title="Trip", unit="psi") == trend_svg(POINTS[::-1], title="Trip", unit="psi")


def test_one_point_is_drawn_alone_and_none_leaves_an_empty_field():
    assert (len(shapes(draw(POINTS[:1]), Circle)), shapes(draw(POINTS[:1]), PolyLine)) == (1, [])
    assert shapes(draw([]), Circle) == []


def test_limits_are_drawn_and_named_and_what_lies_between_is_washed():
    drawing = draw(POINTS, lower=25, upper=30)
    assert {"at least 25 psi", "at most 30 psi"} <= set(texts(drawing))
    (inside,) = [shape for shape in shapes(drawing, Rect) if shape.fillColor == ACCENT_WASH]
    heights = [disc.cy for disc in shapes(drawing, Circle)]
    assert inside.height == approx(5 * (heights[0] - heights[1]))


def test_a_forecast_goes_on_from_the_last_value_and_says_what_it_means():
    forecast = Forecast(date(2026, 1, 1), 26.0, date(2027, 1, 1), 24.0, "below the limit in July 2026")
    drawing = draw(POINTS, lower=25, forecast=forecast, width=900)
    last = shapes(drawing, Circle)[-1]
    (line,) = [line for line in shapes(drawing, Line) if line.strokeDashArray and line.strokeColor == SOFT]
    assert (line.x1, line.y1) == approx((last.cx, last.cy)) and line.x2 > line.x1 and line.y2 < line.y1
    assert "below the limit in July 2026" in " ".join(texts(drawing))


def test_the_interval_of_a_forecast_widens_about_it_and_stays_in_the_picture():
    forecast = Forecast(date(2026, 1, 1), 26.0, date(2027, 1, 1), 24.0, "expected", 1.0, 30.0)
    drawing = draw(POINTS, lower=25, forecast=forecast, width=900)
    below, middle, above = [line for line in shapes(drawing, Line) if line.strokeDashArray and line.strokeColor == SOFT]
    assert below.y1 < middle.y1 < above.y1
    assert middle.y2 - below.y2 == approx(above.y2 - middle.y2) == approx(30 * (above.y1 - middle.y1))
    assert stays_inside(drawing)


def test_the_graduations_are_months_when_the_time_is_short_and_years_when_it_is_long():
    year = draw([TrendPoint(date(2025, month, 1), 27.0) for month in (1, 4, 7, 10)])
    decades = draw([TrendPoint(date(year, 6, 1), 27.0) for year in (1995, 2005, 2025)])
    assert "Mar 2025" in texts(year) and {"2000", "2010", "2020"} <= set(texts(decades))


def test_the_sentence_gives_every_value_with_its_day():
    sentence = describe_trend(POINTS[:2], "Trip pressure", "psi")
    assert sentence == "Trip pressure: 28.00 ± 0.80 psi on 1 Jan 2025, 27.00 ± 0.80 psi on 1 Jul 2025."
    assert describe_trend([], "Trip pressure", "psi") == "Trip pressure: no results yet."


def test_a_value_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="finite"):
        draw([TrendPoint(date(2025, 1, 1), float("inf"))])


def test_the_page_carries_the_words_of_the_drawing():
    assert svg_texts(trend_svg(POINTS, title="Trip pressure", unit="psi", lower=25)) == texts(draw(POINTS, lower=25))


@given(
    lists(builds(TrendPoint, DAYS, VALUES, floats(0, 1e5)), max_size=12),
    lists(VALUES, max_size=2),
    text(max_size=60),
    one_of(none(), builds(Forecast, DAYS, VALUES, DAYS, VALUES, text(max_size=80), floats(0, 1e5), floats(0, 1e5))),
)
def test_whatever_is_finite_is_drawn_inside_its_box(points, ends, title, forecast):
    lower, upper = (min(ends), max(ends)) if len(ends) == 2 else (None, ends[0] if ends else None)
    drawing = trend(points, title=title, unit="psi", lower=lower, upper=upper, forecast=forecast)
    assert stays_inside(drawing)
