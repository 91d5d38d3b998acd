"""The interval that as-found results support."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calibration.intervals import DRIFT, STAIRCASE, Calibrated, ScaleResult, recommended, within_and_share
from fleet.calibration.points import FOUND, LEFT, Point

FIRST = date(2020, 1, 1)
SHARES = st.floats(0, 1.5)


def calibrated(year, *, was_within=True, share=0.5, found=None, left=0.0, months=12.0):
    """A calibration after so many years; errors as found and left at 100, where the accuracy is 1 and U 0.1."""
    points = [] if found is None else [(Point(100, 100 + found, 0.1, condition=FOUND), 1.0)]
    left = [(Point(100, 100 + left, 0.1, condition=LEFT), 1.0)]
    on = FIRST + timedelta(days=round(365.25 * year))
    return Calibrated(on, months, was_within, share, (ScaleResult(1, tuple(points), tuple(left)),))


# ILAC-G24:2022 / OIML D 10, staircase (from memory): longer after a good result, shorter after a bad one.
@pytest.mark.parametrize(
    ("was_within", "share", "months"),
    [(True, 0.5, 15), (True, 0.8, 15), (True, 0.9, 12), (True, None, 12), (False, 1.2, 6)],
)
def test_the_staircase_follows_the_last_result(was_within, share, months):
    found = recommended([calibrated(0, was_within=was_within, share=share)], current=12, longest=None)
    assert (found.months, found.reasons[0].method) == (months, STAIRCASE)


def test_without_a_decided_interval_that_of_the_last_calibration_counts():
    assert recommended([calibrated(0, share=0.9, months=18.0)], current=None, longest=None).months == 18


def test_the_drift_says_when_the_accuracy_is_used_up():
    """By hand: 0.24 of the accuracy in 365 days is 0.02001 a month, and 0.9 is free: 44.97 months."""
    history = [calibrated(0), calibrated(1, found=0.12), calibrated(2, found=0.24)]
    found = recommended(history, current=60, longest=None)
    assert {one.method: one.months for one in found.reasons} == {STAIRCASE: 75, DRIFT: 44}
    assert found.months == 44


def test_one_drift_is_no_evidence():
    found = recommended([calibrated(0), calibrated(1, found=0.1)], current=12, longest=None)
    assert [one.method for one in found.reasons] == [STAIRCASE]


def test_nothing_is_recommended_without_results():
    assert recommended([], current=12, longest=24).months is None
    assert recommended([calibrated(0, was_within=None)], current=12, longest=24).months is None


@given(st.lists(st.tuples(st.booleans(), SHARES, st.none() | SHARES), min_size=1, max_size=6), st.integers(1, 60))
def test_a_recommendation_is_a_month_at_least_and_never_beyond_the_longest(results, longest):
    history = [calibrated(n, was_within=w, share=s, found=f) for n, (w, s, f) in enumerate(results)]
    found = recommended(history, current=None, longest=longest)
    assert 1 <= found.months <= longest
    assert found.is_capped == (min(one.months for one in found.reasons) > longest)


@given(st.floats(0, 1), st.floats(0, 1), st.integers(2, 60))
def test_a_faster_drift_never_supports_a_longer_interval(slow, more, current):
    def months(rate):
        history = [calibrated(0), calibrated(1, found=rate), calibrated(2, found=rate)]
        return recommended(history, current=current, longest=None).months

    assert months(slow + more) <= months(slow)


def test_the_share_is_that_of_the_worst_point_with_its_uncertainty():
    found = [(Point(0, 0.1, 0.2), 1.0), (Point(100, 99.3, 0.2), 1.0), (Point(50, 50, 1), 0.0)]
    assert within_and_share(found) == (True, pytest.approx(0.9))
    assert within_and_share([(Point(0, 1.1, 0.2), 1.0)]) == (False, pytest.approx(1.3))
    assert within_and_share([]) == (None, None)
