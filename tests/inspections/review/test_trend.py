"""Laplace's trend test against its exact distribution and its symmetries."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis.strategies import floats, lists
from pytest import approx, mark
from scipy.stats import irwinhall

from inspections.review import laplace_trend, trend_of_days

TIMES = lists(floats(0, 100), min_size=5, max_size=30)


@given(times=TIMES)
def test_the_p_value_agrees_with_the_exact_one(times):
    # Source: without a trend the times are uniform, so their sum / T is Irwin-Hall distributed (scipy.stats.irwinhall)
    assert laplace_trend(times, 100).p_value == approx(irwinhall.sf(sum(times) / 100, len(times)), abs=0.006)


def test_a_worked_case_agrees_by_hand():
    # Source: formula of the NIST Dataplot manual (seen); by hand: mean 80, T 100, n 12 -> (80 - 50) / (100 / 12) = 3.6
    assert laplace_trend([80] * 12, 100).statistic == approx(3.6)


@given(times=TIMES)
def test_mirrored_times_turn_the_sign(times):
    mirrored = laplace_trend([100 - each for each in times], 100).statistic
    assert mirrored == approx(-laplace_trend(times, 100).statistic, abs=1e-9)


@given(times=TIMES, scale=floats(0.01, 1000))
def test_the_unit_of_time_does_not_matter(times, scale):
    scaled = laplace_trend([each * scale for each in times], 100 * scale * (1 + 1e-12))
    assert scaled.statistic == approx(laplace_trend(times, 100).statistic, abs=1e-6)


def test_even_spacing_is_no_trend():
    first, last = date(2025, 1, 1), date(2026, 12, 31)
    spread = [first + timedelta(days=each) for each in range(0, 730, 81)]
    assert not trend_of_days(spread, first, last).is_worsening


@mark.parametrize(("count", "days"), [(4, 730), (10, 300)])
def test_too_little_record_gives_no_trend(count, days):
    first = date(2025, 1, 1)
    found = [first + timedelta(days=each) for each in range(count)]
    assert trend_of_days(found, first, first + timedelta(days=days - 1)) is None


def test_days_outside_the_record_are_left_out():
    first, last = date(2025, 1, 1), date(2026, 12, 31)
    inside = [date(2026, 6, day) for day in (1, 2, 3, 4, 5)]
    assert trend_of_days([*inside, date(2024, 1, 1), date(2027, 1, 1)], first, last).events == 5


@mark.parametrize(("times", "duration"), [([], 10), ([1], 0), ([11], 10), ([-1], 10)])
def test_events_that_cannot_be_are_refused(times, duration):
    with pytest.raises(ValueError, match="at least 1 event|must lie within"):
        laplace_trend(times, duration)
