"""Rates and intervals against worked values, lifelines, reliability and scipy's own censored fits."""

from math import exp, inf, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.stats import CensoredData, binomtest, expon

from inspections.planning.rates import (
    Gap,
    hidden_failure_rate,
    rate_bounds,
    rate_upper_bound,
    share_bounds,
    share_of_time_failed,
    share_upper_bound,
    time_between,
)

# Maximum likelihood of interval-censored exponential data: lifelines 0.30.3, ExponentialFitter.fit_interval_censoring,
# 1/lambda_ (its optimiser stops within 1e-5 of the maximum).
LIFELINES = (
    (0.070508362, [Gap(1, False, 40), Gap(1, True, 3), Gap(0.5, False, 30), Gap(0.5, True)]),
    (0.202732554, [Gap(2, False, 10), Gap(2, True, 5)]),
    (0.132961110, [Gap(0.25, True), Gap(1.3, False, 7), Gap(2.7, True, 2), Gap(0.9, False, 12)]),
)
gaps = st.builds(Gap, st.floats(0.1, 5), st.booleans(), st.integers(1, 40))


def test_the_published_example_of_a_rate():
    """2 failures in 9 years: 0.22 a year, 4.5 years between them. Source: HTM ComDoc 1, seen."""
    assert rate_bounds(2, 9).value == approx(0.22, abs=0.005)
    assert time_between(2, 9).value == 4.5


def test_the_bounds_of_a_rate():
    """Sources: computed from the chi-square distribution; the same by reliability 0.9.0, reliability_test_planner:
    0.0624110890 for 0 in 48 years, 0.0516910435 and 0.0584484871 for 3 in 150 years, one-sided and two-sided.
    """
    assert rate_upper_bound(0, 48) == approx(0.0624110890) == approx(-log(0.05) / 48)
    assert rate_upper_bound(3, 150) == approx(0.0516910435)
    bounds = rate_bounds(3, 150)
    assert (bounds.lower, bounds.upper) == (approx(0.0041, abs=5e-5), approx(0.0584484871))


def test_the_bounds_of_a_share():
    """Source: Clopper-Pearson; reliability 0.9.0, one_sample_proportion: 0.0123485272 to 0.3169827140 for 2 of 20,
    0.0950338529 for 0 of 30.
    """
    bounds = share_bounds(2, 20)
    assert (bounds.lower, bounds.upper) == (approx(0.0123485272), approx(0.3169827140))
    assert share_upper_bound(0, 30) == approx(0.0950338529)


@given(st.integers(0, 30), st.integers(0, 30))
def test_shares_are_those_of_scipy(hits, more):
    trials = max(1, hits + more)
    interval = binomtest(hits, trials).proportion_ci(0.95, "exact")
    bounds = share_bounds(hits, trials)
    assert (bounds.lower, bounds.upper) == (approx(interval.low, abs=1e-9), approx(interval.high, abs=1e-9))


@pytest.mark.parametrize(("rate", "shares"), [(0.05, (0.62, 1.24, 2.46, 4.84)), (0.2, (2.46, 4.84, 9.37, 17.58))])
def test_the_share_of_time_that_a_hidden_failure_stands(rate, shares):
    """In per cent for 0.25, 0.5, 1 and 2 years between inspections; computed by hand from the formula."""
    found = [100 * share_of_time_failed(rate, years) for years in (0.25, 0.5, 1, 2)]
    assert found == [approx(share, abs=0.005) for share in shares]


@given(st.floats(0, 3), st.floats(0.05, 5))
def test_the_share_of_time_is_what_a_sum_over_the_interval_gives(rate, years):
    moments = (np.arange(20_000) + 0.5) * years / 20_000
    assert share_of_time_failed(rate, years) == approx(float(np.mean(1 - np.exp(-rate * moments))), abs=1e-7)


@pytest.mark.parametrize(("rate", "observed"), LIFELINES)
def test_the_rate_of_hidden_failures_is_that_of_lifelines(rate, observed):
    assert hidden_failure_rate(observed).value == approx(rate, rel=2e-5)


@settings(deadline=None, max_examples=30)
@given(gaps, gaps, st.lists(gaps, max_size=4))
def test_the_rate_of_hidden_failures_is_that_of_scipy(one, other, more):
    observed = [Gap(one.years, True, one.number), Gap(other.years, False, other.number), *more]
    each = [gap for gap in observed for _ in range(gap.number)]
    interval = [[0, gap.years] if gap.failed else [gap.years, np.inf] for gap in each]
    _, scale = expon.fit(CensoredData.interval_censored(*zip(*interval, strict=True)), floc=0)
    assert hidden_failure_rate(observed).value == approx(1 / scale, rel=1e-3)


@given(st.lists(gaps, min_size=1, max_size=5))
def test_the_interval_of_hidden_failures_holds_what_the_likelihood_allows(observed):
    """Wilks: at both ends twice the log likelihood ratio is the 95 % point of chi-square with one degree, 3.841459."""
    if all(gap.failed for gap in observed) or not any(gap.failed for gap in observed):
        return
    bounds = hidden_failure_rate(observed)

    def log_likelihood(rate):
        return sum(g.number * (log(1 - exp(-rate * g.years)) if g.failed else -rate * g.years) for g in observed)

    for end in (bounds.lower, bounds.upper):
        assert 2 * (log_likelihood(bounds.value) - log_likelihood(end)) == approx(3.841459, abs=1e-4)
    assert bounds.lower < bounds.value < bounds.upper


def test_without_a_hidden_failure_the_bound_is_exact():
    """The chance of no failure in 48 years is then 5 %: -ln(0.05)/48, one-sided."""
    bounds = hidden_failure_rate([Gap(1, False, 40), Gap(0.5, False, 16)])
    assert (bounds.value, bounds.lower, bounds.upper) == (0, 0, approx(0.0624110890))


def test_of_equal_gaps_the_rate_follows_from_the_share_that_failed():
    """5 of 15 failed within 2 years: -ln(10/15)/2 a year, by hand."""
    assert hidden_failure_rate([Gap(2, False, 10), Gap(2, True, 5)]).value == approx(-log(10 / 15) / 2)


def test_no_events_leave_the_time_between_them_unbounded():
    between = time_between(0, 48)
    assert (between.value, between.upper) == (inf, inf) and between.lower == approx(1 / rate_bounds(0, 48).upper)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: rate_bounds(-1, 5),
        lambda: rate_bounds(1, 0),
        lambda: rate_upper_bound(1, 5, confidence=1),
        lambda: share_bounds(3, 2),
        lambda: share_of_time_failed(-0.1, 1),
        lambda: share_of_time_failed(0.1, 0),
        lambda: Gap(0, True),
        lambda: hidden_failure_rate([]),
        lambda: hidden_failure_rate([Gap(1, True)]),
    ],
)
def test_what_cannot_be_a_rate_is_refused(wrong):
    with pytest.raises(ValueError, match="needs|nothing bounds"):
        wrong()
