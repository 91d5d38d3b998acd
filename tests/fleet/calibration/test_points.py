"""Errors of a certificate against the accuracy, with their uncertainty."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calibration.points import FOUND, LEFT, Point, ScalePoints, Verdict, merged, stored_points, verdict_of, worst

FIGURES = st.floats(-1e4, 1e4).map(lambda value: round(value, 4))
UNCERTAINTIES = st.floats(1e-3, 100).map(lambda value: round(value, 4))


def point(error, expanded, reference=100.0, **fields):
    return Point(reference, reference + error, expanded, **fields)


# Source: ILAC-G8:09/2019, guard band w = U: within if |e| + U <= tolerance, outside if |e| - U > it (arithmetic).
@pytest.mark.parametrize(
    ("error", "expanded", "expected"),
    [
        (0.8, 0.2, Verdict.WITHIN),
        (-0.8, 0.2, Verdict.WITHIN),
        (0.9, 0.2, Verdict.DOUBTFUL_WITHIN),
        (1.1, 0.2, Verdict.DOUBTFUL_OUTSIDE),
        (-1.3, 0.2, Verdict.OUTSIDE),
    ],
)
def test_an_error_is_judged_with_its_uncertainty(error, expanded, expected):
    assert verdict_of(point(error, expanded), 1.0) is expected


@given(FIGURES, UNCERTAINTIES, UNCERTAINTIES, UNCERTAINTIES)
def test_a_larger_uncertainty_never_makes_a_verdict_surer(error, expanded, more, allowed):
    sure = {Verdict.WITHIN, Verdict.OUTSIDE}
    if verdict_of(point(error, expanded + more), allowed) in sure:
        assert verdict_of(point(error, expanded), allowed) == verdict_of(point(error, expanded + more), allowed)


@given(FIGURES, UNCERTAINTIES, UNCERTAINTIES)
def test_too_high_and_too_low_are_judged_alike(error, expanded, allowed):
    low = Point(0.0, -error, expanded)
    assert verdict_of(Point(0.0, error, expanded), allowed) == verdict_of(low, allowed)


def test_the_worst_verdict_counts():
    assert worst([Verdict.WITHIN, Verdict.OUTSIDE, Verdict.DOUBTFUL_WITHIN]) is Verdict.OUTSIDE
    assert worst([]) is None


@given(FIGURES, FIGURES, UNCERTAINTIES)
def test_a_point_in_another_unit_and_back_is_the_same(reference, reading, expanded):
    """Units of temperature differ in their zero, which the uncertainty does not have."""
    held = ScalePoints(1, "°C", (Point(reference, reading, expanded),))
    there = held.in_unit("°F")
    back = there.in_unit("°C").points[0]
    assert (back.reference, back.reading, back.expanded) == pytest.approx((reference, reading, expanded), abs=1e-6)
    assert there.points[0].expanded == pytest.approx(1.8 * expanded)
    assert there.points[0].error == pytest.approx(1.8 * held.points[0].error, abs=1e-6)  # 1 K is 1.8 °F


def test_psi_become_kilopascals():
    """1 psi = 6.894757 kPa. Source: NIST SP 811, table B.8."""
    in_kpa = ScalePoints(1, "psi", (Point(10, 10.1, 0.05),)).in_unit("kPa").points[0]
    assert (in_kpa.reference, in_kpa.error, in_kpa.expanded) == pytest.approx((68.94757, 0.6894757, 0.34473785))


def test_what_was_adjusted_is_found_or_left_and_what_was_not_is_both():
    held = ScalePoints(1, "kPa", (point(3, 1, condition=FOUND), point(0, 1, condition=LEFT), point(1, 1)))
    assert [one.error for one in held.found] == [3, 1]
    assert [one.error for one in held.left] == [0, 1]


def test_points_read_back_from_what_is_stored():
    held = ScalePoints(4, "kPa", (point(3, 1, condition=FOUND), point(0.25, 1, k=2.2)))
    assert stored_points([held.as_stored()]) == [held]


def test_a_value_approached_from_both_sides_gives_one_point_with_its_hysteresis():
    """Rising 100.2, falling 100.6 at 100: mean error 0.4, half spread 0.2 (arithmetic)."""
    found = merged([Point(0, 0, 0.1), Point(100, 100.2, 0.1), Point(100, 100.6, 0.3)])
    assert found[1] == pytest.approx((100.4, 0.4, 0.15, 0.2))
