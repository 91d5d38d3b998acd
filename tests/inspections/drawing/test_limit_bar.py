"""The limit bar shows value, uncertainty, guard band, limit and margin where the numbers say."""

from dataclasses import replace
from math import inf

import pytest
from hypothesis import example, given
from hypothesis.strategies import booleans, floats, none, one_of, sampled_from, text
from pytest import approx
from reportlab.graphics.shapes import Group, Line, Polygon, Rect, String

from fleet.drawing import ACCENT, ACCENT_WASH, ALARM, SOFT, to_svg
from inspections.bench import Decision, Limit, Result, decide
from inspections.drawing import describe_result, limit_bar, limit_bar_svg, limit_texts, value_text
from tests.drawing_reader import pdf_texts, shapes, stays_inside, svg_texts, text_at, texts

PA_PER_PSI = 6894.757293168  # Source: NIST SP 811:2008, B.8, pound-force per square inch, exact to the digits given
FINITE = floats(-1e6, 1e6)


def make_limit(lower=None, upper=None, *, unit="psi", factor=PA_PER_PSI, strict=False):
    ends = [None if end is None else end * factor for end in (lower, upper)]
    return Limit("trip", "rule", "Trip", *ends, unit, "source", "edition", "local", strict=strict)


def make_result(value, expanded=0.0, limit=None, *, unit="psi", factor=PA_PER_PSI, label="Trip pressure"):
    decision = margin = probability = None
    if limit:
        verdict = decide(value * factor, expanded * factor / 2, limit)
        decision, margin, probability = verdict.decision, verdict.margin, verdict.probability
    si = value * factor, expanded * factor / 2, inf, 2.0, expanded * factor
    return Result("trip", label, *si, unit, limit, decision, margin, probability, "")


def float_place(drawing):
    """Return x of the tip of the float, the largest polygon."""
    marker = max(shapes(drawing, Polygon), key=lambda shape: shape.getBounds()[3] - shape.getBounds()[1])
    left, _, right, _ = marker.getBounds()
    return (left + right) / 2


def tick_places(drawing):
    """Return {number: x} of the graduations that carry a number."""
    found = {}
    for shape in shapes(drawing, String):
        if shape.fillColor == SOFT and shape.text.replace(".", "").replace("\N{MINUS SIGN}", "").isdigit():
            found[float(shape.text.replace("\N{MINUS SIGN}", "-"))] = shape.x
    return found


def at_scale(drawing, value):
    """Return x where the graduations put a value."""
    (low, x_low), *_, (high, x_high) = sorted(tick_places(drawing).items())
    return x_low + (value - low) / (high - low) * (x_high - x_low)


@given(floats(10, 900), floats(1, 900), sampled_from([300, 360, 420]))
def test_both_limits_are_read_in_full_in_a_narrow_picture(low, span, width):
    limit = make_limit(low, low + span)
    result = make_result(low, 1.0, limit, unit="kPa")
    drawing = limit_bar(result, width, text=19)
    assert set(limit_texts(result)) <= set(texts(drawing)) and stays_inside(drawing)


@given(floats(5, 60), floats(0, 3))
def test_the_float_stands_where_the_graduations_say(value, expanded):
    drawing = limit_bar(make_result(value, expanded, make_limit(25, 40)), 500)
    assert float_place(drawing) == approx(at_scale(drawing, value), abs=0.6)


def test_the_tolerance_zone_runs_from_limit_to_limit():
    drawing = limit_bar(make_result(30, 0, make_limit(25, 40)))
    (zone,) = [shape for shape in shapes(drawing, Rect) if shape.fillColor == ACCENT_WASH]
    assert (zone.x, zone.x + zone.width) == approx((at_scale(drawing, 25), at_scale(drawing, 40)), abs=0.6)


def test_the_interval_is_as_wide_as_twice_the_expanded_uncertainty():
    drawing = limit_bar(make_result(30, 2, make_limit(25, 40)))
    ends = at_scale(drawing, 28), at_scale(drawing, 32)
    intervals = [line for line in shapes(drawing, Line) if line.strokeColor == ACCENT and line.y1 == line.y2]
    assert [(line.x1, line.x2) for line in intervals] == [approx(ends, abs=0.6)]


def test_the_guard_band_lies_inside_the_limit_and_is_as_wide_as_the_uncertainty():
    drawing = limit_bar(make_result(30, 1.5, make_limit(25)))
    (hatched,) = [group for group in drawing.contents if isinstance(group, Group)]
    left, _, right, _ = hatched.getBounds()
    assert (left, right) == approx((at_scale(drawing, 25), at_scale(drawing, 26.5)), abs=0.8)


def test_without_uncertainty_there_is_no_guard_band():
    drawing = limit_bar(make_result(30, 0, make_limit(25)))
    assert not [group for group in drawing.contents if isinstance(group, Group)]


@pytest.mark.parametrize(
    "lower, upper, words",
    [(25, None, ["at least 25 psi"]), (None, 40, ["at most 40 psi"]), (25, 40, ["at least 25 psi", "at most 40 psi"])],
)
def test_each_limit_is_named_with_its_value_and_unit(lower, upper, words):
    result = make_result(30, 1, make_limit(lower, upper))
    assert limit_texts(result) == words and set(words) <= set(texts(limit_bar(result)))


def test_a_strict_limit_is_named_as_one():
    assert limit_texts(make_result(30, 1, make_limit(25, strict=True))) == ["above 25 psi"]


def test_the_value_stands_there_in_words_with_uncertainty_and_unit():
    assert text_at(limit_bar(make_result(27.4, 0.9, make_limit(25))), "27.40 ± 0.90 psi")


@pytest.mark.parametrize("value, words", [(35, "margin 10.00 psi"), (15, "10.00 psi below"), (55, "10.00 psi above")])
def test_the_margin_is_told_and_on_which_side_it_lies(value, words):
    assert text_at(limit_bar(make_result(value, 0.5, make_limit(25, 45)), 600), words)


def test_a_value_outside_is_drawn_in_the_alarm_tone_and_one_inside_is_not():
    inside, outside = (limit_bar(make_result(value, 0.5, make_limit(25))) for value in (35, 15))
    assert ALARM in {shape.fillColor for shape in shapes(outside, Polygon)}
    assert ALARM not in {shape.fillColor for shape in shapes(inside, Polygon)}


def test_a_value_far_outside_is_held_at_the_edge_and_said_to_be_off_the_scale():
    drawing = limit_bar(make_result(900, 0.6, make_limit(45, 52)), 420)
    assert text_at(drawing, "900.00 ± 0.60 psi, off this scale")
    assert float_place(drawing) == approx(420 - 13) and stays_inside(drawing)
    assert at_scale(drawing, 52) - at_scale(drawing, 45) > 40


def test_without_a_limit_only_the_value_and_its_uncertainty_are_shown():
    drawing = limit_bar(make_result(3.2, 0.4))
    assert text_at(drawing, "3.20 ± 0.40 psi")
    assert not [shape for shape in shapes(drawing, Rect) if shape.fillColor == ACCENT_WASH]
    assert not any("margin" in words or "at " in words for words in texts(drawing))


@pytest.mark.parametrize("seen, word", [(1.0, "found: yes"), (0.0, "found: no")])
def test_an_observation_stands_at_one_of_two_stops(seen, word):
    result = make_result(seen, 0, make_limit(1, unit="yes/no", factor=1), unit="yes/no", factor=1)
    drawing = limit_bar(result)
    assert float_place(drawing) == approx(text_at(drawing, word.removeprefix("found: ")).x)
    assert {word, "must be yes"} <= set(texts(drawing))


def test_an_observation_that_must_be_no_says_so():
    result = make_result(0, 0, make_limit(None, 0, unit="yes/no", factor=1), unit="yes/no", factor=1)
    assert limit_texts(result) == ["must be no"] and result.decision == Decision.PASS


def test_the_sentence_tells_value_limit_margin_and_decision():
    result = make_result(18.2, 0.9, make_limit(25))
    assert describe_result(result) == (
        "Trip pressure: 18.20 ± 0.90 psi; limit at least 25 psi; 6.80 psi below the limit; fail."
    )


def test_the_unit_shown_is_the_unit_of_the_result():
    result = replace(make_result(25, 0.5, make_limit(20)), unit="kPa")
    assert value_text(result) == "172.4 ± 3.4 kPa"  # 25 psi = 172.369 kPa and 0.5 psi = 3.447 kPa, NIST SP 811, B.8


def test_a_value_that_is_not_finite_is_refused_by_name():
    with pytest.raises(ValueError, match='"Trip pressure" cannot be drawn'):
        limit_bar(make_result(float("nan")))


def test_page_and_paper_carry_the_same_words():
    result = make_result(47.1, 0.6, make_limit(45, 52))
    drawing = limit_bar(result)
    assert sorted(words for words, _, _ in pdf_texts(drawing)) == sorted(texts(drawing))
    assert svg_texts(limit_bar_svg(result)) == texts(drawing) == svg_texts(to_svg(drawing, "Result"))


@example(0.0, 5e-324, None, None, False, 160.0)
@given(FINITE, floats(0, 1e6), one_of(none(), FINITE), one_of(none(), FINITE), booleans(), floats(160, 900))
def test_whatever_is_finite_is_drawn_inside_its_box(value, expanded, one, other, strict, width):
    ends = sorted(end for end in (one, other) if end is not None)
    limit = None
    if len(ends) == 2:
        limit = make_limit(*ends, strict=strict)
    elif ends:
        limit = make_limit(ends[0], strict=strict) if one is not None else make_limit(None, ends[0], strict=strict)
    assert stays_inside(limit_bar(make_result(value, expanded, limit), width))


@given(text(max_size=200), sampled_from(["kPa per L/min", "mL/min", "cmH2O"]))
def test_a_label_however_long_leaves_the_bar_as_it_is(label, unit):
    result = replace(make_result(30, 1, make_limit(25, 40)), label=label, unit=unit)
    assert stays_inside(limit_bar(result, 200))
