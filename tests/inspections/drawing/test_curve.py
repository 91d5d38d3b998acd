"""Curves stand on their axes, tell their series apart by shape, and keep their labels apart."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis.strategies import builds, floats, lists, sampled_from, text, tuples
from pytest import approx
from reportlab.graphics.shapes import Circle, Line, PolyLine, Rect, String

from fleet.drawing import ACCENT_WASH, SHEET, text_width
from inspections.bench import Curve, Mark, Series
from inspections.drawing import curve, curve_svg, describe_curve
from inspections.drawing.plot import padded_range, spread_out
from tests.drawing_reader import pdf_texts, shapes, stays_inside, svg_texts, text_at, texts

FALLING = ((50.0, 6.0), (30.0, 5.7), (27.4, 3.0), (20.0, 0.0))
COORDINATES = floats(-1e5, 1e5)
POINTS = lists(tuples(COORDINATES, COORDINATES), max_size=8).map(tuple)
SERIES = builds(Series, text(max_size=80), POINTS, sampled_from(["line", "points", "both"]))
KINDS = sampled_from(["limit", "result", "note"])
MARKS = builds(Mark, sampled_from("xy"), COORDINATES, text(max_size=80), KINDS, floats(0, 1e4))


def make_curve(series=None, marks=(), **changes):
    series = [Series("falling", FALLING)] if series is None else series
    parts = {"x_label": "oxygen pressure", "x_unit": "psi", "y_label": "flow", "y_unit": "L/min", **changes}
    return Curve("sweep", "Sweep", series=tuple(series), marks=tuple(marks), **parts)


def axis_scale(drawing, anchor):
    """Return a function from a value to its place, read from the graduations of one axis: "middle" x, "end" y."""
    places = {}
    for shape in shapes(drawing, String):
        if shape.textAnchor == anchor and shape.text.replace(".", "").isdigit():
            places[float(shape.text)] = shape.x if anchor == "middle" else shape.y + 13 * 0.32
    (low, at_low), *_, (high, at_high) = sorted(places.items())
    return lambda value: at_low + (value - low) / (high - low) * (at_high - at_low)


def test_every_point_stands_where_the_graduations_say():
    drawing = curve(make_curve())
    x, y = axis_scale(drawing, "middle"), axis_scale(drawing, "end")
    assert [(disc.cx, disc.cy) for disc in shapes(drawing, Circle)] == [
        approx((x(a), y(b)), abs=0.6) for a, b in FALLING
    ]


def test_a_line_runs_through_its_points_in_their_order():
    drawing = curve(make_curve([Series("falling", FALLING, "both")]))
    (line,) = shapes(drawing, PolyLine)
    assert line.points == [part for disc in shapes(drawing, Circle) for part in (disc.cx, disc.cy)]


@pytest.mark.parametrize("style, lines, discs", [("line", 1, 0), ("points", 0, 4), ("both", 1, 4)])
def test_a_series_is_drawn_in_its_style(style, lines, discs):
    drawing = curve(make_curve([Series("falling", FALLING, style)]))
    assert (len(shapes(drawing, PolyLine)), len(shapes(drawing, Circle))) == (lines, discs)


def test_two_series_differ_in_marker_and_dash_not_only_in_colour():
    drawing = curve(make_curve([Series("falling", FALLING), Series("rising", FALLING[::-1])]))
    first, second = shapes(drawing, PolyLine)
    squares = [shape for shape in shapes(drawing, Rect) if shape.fillColor == SHEET and shape.width < 20]
    assert len(shapes(drawing, Circle)) == len(squares) == 4
    assert first.strokeDashArray != second.strokeDashArray


def test_axes_series_and_marks_are_all_named():
    marks = (Mark("x", 25, "at least 25 psi", "limit"), Mark("y", 0.5, "allowed 0.5 L/min", "limit"))
    drawing = curve(make_curve(marks=marks))
    words = {"oxygen pressure, psi", "flow, L/min", "falling", "at least 25 psi", "allowed 0.5 L/min"}
    assert words <= set(texts(drawing)) and words <= set(svg_texts(curve_svg(make_curve(marks=marks))))
    assert words <= {found for found, _, _ in pdf_texts(drawing)}


def test_a_mark_stands_at_its_value_with_its_spread_around_it():
    drawing = curve(make_curve(marks=[Mark("x", 27.4, "trip", "result", spread=2)]))
    x = axis_scale(drawing, "middle")
    (band,) = [shape for shape in shapes(drawing, Rect) if shape.fillColor == ACCENT_WASH]
    assert (band.x, band.x + band.width) == approx((x(25.4), x(29.4)), abs=0.6)
    assert any(line.x1 == line.x2 == approx(x(27.4), abs=0.6) for line in shapes(drawing, Line))


def test_no_upright_line_runs_through_the_label_of_another():
    marks = [Mark("x", value, f"mark at {value} psi", "note") for value in (25, 26, 27, 28, 29)]
    drawing = curve(make_curve(marks=marks), 900)
    lines = [line for line in shapes(drawing, Line) if line.x1 == line.x2 and line.y2 - line.y1 > 100]
    for mark in marks:
        words = text_at(drawing, mark.label)
        half = text_width(words.text, 13) / 2
        crossing = [line for line in lines if words.x - half < line.x1 < words.x + half and line.y2 > words.y + 2]
        assert crossing == []


NAMES = ("expiratory valve: pressure across the valve", "at its own calibration conditions", "below 10 %, as read")


@given(lists(sampled_from(NAMES), min_size=1, max_size=6), sampled_from([300, 380, 640]), sampled_from([13, 18]))
def test_every_name_is_whole_beside_the_curve_or_in_the_key_below_it(names, width, size):
    drawing = curve(make_curve([Series(name, FALLING) for name in names]), width, width, size)
    words = " ".join(texts(drawing)).split()
    wanted = [word for name in names if text_width(name, size) < width - 4 * size for word in name.split()]
    assert all(words.count(word) >= wanted.count(word) for word in wanted)
    assert stays_inside(drawing)


def test_a_key_shows_each_line_with_its_dash_and_marker():
    series = [Series(NAMES[0], FALLING, "both"), Series(NAMES[1], FALLING[::-1], "points")]
    drawing = curve(make_curve(series, (Mark("y", 3, "upper limit", "limit"),)), 300, 300, 18)
    assert len(shapes(drawing, Circle)) == 4 + 1  # the points of the first series, and its sample
    samples = [line for line in shapes(drawing, Line) if line.x1 == approx(18 * 0.4) and line.x2 == approx(18 * 2.6)]
    assert [line.strokeWidth for line in samples] == [1.8, 1.5]  # from the foot: the limit, the line of the first


SWEEP_LABELS = ["lower limit", "upper limit", "Trip pressure", "Reset pressure"]


@given(lists(floats(0, 50), min_size=4, max_size=4), sampled_from([302, 330, 414]))
def test_labels_of_marks_keep_apart_in_a_narrow_picture(values, width):
    marks = [Mark("x", value, words, "limit") for value, words in zip(values, SWEEP_LABELS, strict=True)]
    drawing = curve(make_curve(marks=marks), width, 260, text=16)
    boxes = [_reach(found) for found in shapes(drawing, String) if found.text in SWEEP_LABELS]
    assert len(boxes) == len(marks)
    for one, other in combinations(boxes, 2):
        assert one[2] != approx(other[2], abs=1) or one[1] <= other[0] + 1 or other[1] <= one[0] + 1


@given(lists(floats(0, 50), min_size=4, max_size=4), lists(floats(5, 6), min_size=2, max_size=2))
def test_labels_of_series_stay_below_those_of_marks(values, ends):
    marks = [Mark("x", value, words, "limit") for value, words in zip(values, SWEEP_LABELS, strict=True)]
    names = ("falling", "rising")
    series = [Series(name, ((0.0, 0.0), (20.0, 6.0), (50.0, end))) for name, end in zip(names, ends, strict=True)]
    drawing = curve(make_curve(series, marks), 414, 260, text=16)
    found = shapes(drawing, String)
    highest = max(one.y for one in found if one.text in names)
    assert highest + 16 * 0.7 < min(one.y for one in found if one.text in SWEEP_LABELS)


def _reach(words):
    """Return left end, right end and height of words that are set around their middle."""
    half = text_width(words.text, words.fontSize, words.fontName) / 2
    return words.x - half, words.x + half, words.y


@given(floats(1, 1000), sampled_from([200, 302, 640]))
def test_the_x_axis_of_a_picture_has_two_graduations_at_least(high, width):
    drawing = curve(make_curve([Series("falling", ((0.0, 4.0), (high, 4.0)))]), width, 260, text=16)
    names = [found for found in shapes(drawing, String) if found.textAnchor == "middle"]
    assert len([found for found in names if found.text.replace(".", "").isdigit()]) >= 2


def test_a_single_point_and_none_at_all_can_be_drawn():
    for points in ((), ((27.0, 3.0),)):
        drawing = curve(make_curve([Series("falling", points)]))
        assert stays_inside(drawing) and len(shapes(drawing, Circle)) == len(points)


def test_a_point_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="finite"):
        curve(make_curve([Series("falling", ((1.0, float("inf")),))]))


def test_the_sentence_names_axes_series_and_marks():
    sentence = describe_curve(make_curve(marks=[Mark("x", 27.4, "trip", "result")]))
    assert sentence == ("flow in L/min against oxygen pressure in psi: falling (4 points). Marked: trip at 27.4 psi.")


@given(lists(SERIES, max_size=6), lists(MARKS, max_size=5))
def test_whatever_is_finite_is_drawn_inside_its_box(series, marks):
    assert stays_inside(curve(make_curve(series, marks), 640, 360))


@given(lists(tuples(floats(0, 300), floats(5, 40)), max_size=7))
def test_labels_pushed_apart_do_not_overlap_and_stay_in_place_where_they_can(blocks):
    blocks = sorted(blocks)
    centres, heights = [centre for centre, _ in blocks], [height for _, height in blocks]
    placed = spread_out(centres, heights, 0, 300)
    if sum(heights) < 300:
        for (one, h1), (other, h2) in pairwise(zip(placed, heights, strict=True)):
            assert other - one >= (h1 + h2) / 2 - 1e-6
        assert all(h / 2 - 1e-6 <= at <= 300 - h / 2 + 1e-6 for at, h in zip(placed, heights, strict=True))


def test_labels_with_room_are_not_moved():
    assert spread_out([50, 150, 250], [20, 20, 20], 0, 300) == [50, 150, 250]


@given(lists(COORDINATES, min_size=1, max_size=9))
def test_a_range_holds_every_value_with_room(values):
    low, high = padded_range(values)
    assert low < min(values) and max(values) < high
