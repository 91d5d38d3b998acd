"""Exact bounds of hidden-failure rates against tables, reference libraries and simulation."""

from math import inf, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.stats import binomtest

from inspections.planning.hidden_rate import chance_of_at_most, hidden_rate_bounds, hidden_rate_upper_bound
from inspections.planning.rates import Gap

any_gap = st.builds(Gap, st.floats(0.1, 3), st.booleans(), st.integers(1, 30))


def rate_of(share, years):
    """The rate at which a share of gaps of `years` ends with a failure."""
    return -log(1 - share) / years


def test_no_failure_in_48_machine_years():
    """Source: -ln 0.05/48 = 0.0624; reliability 0.9.0, reliability_test_planner: 0.0624110890."""
    assert hidden_rate_upper_bound([Gap(0.5, False, 40), Gap(1, False, 28)], 0.95) == approx(0.0624110890)


@pytest.mark.parametrize("years", [0.25, 1, 2])
def test_like_gaps_give_the_tables_of_shares(years):
    """Source: Clopper-Pearson; reliability 0.9.0, one_sample_proportion: 0.0123485272 to 0.3169827140 for 2 of 20."""
    bounds = hidden_rate_bounds([Gap(years, True, 2), Gap(years, False, 18)], 0.95)
    assert bounds.lower == approx(rate_of(0.0123485272, years), rel=1e-6)
    assert bounds.upper == approx(rate_of(0.3169827140, years), rel=1e-6)
    assert bounds.value == approx(rate_of(2 / 20, years), rel=1e-6)


@settings(max_examples=40)
@given(st.integers(0, 20), st.integers(1, 40), st.floats(0.2, 3), st.sampled_from([0.8, 0.9, 0.95]))
def test_like_gaps_give_the_shares_of_scipy(failed, passed, years, confidence):
    observed = [Gap(years, False, passed)] + ([Gap(years, True, failed)] if failed else [])
    interval = binomtest(failed, failed + passed).proportion_ci(confidence, "exact")
    bounds = hidden_rate_bounds(observed, confidence)
    assert bounds.lower == approx(rate_of(interval.low, years), rel=1e-5, abs=1e-9)
    assert bounds.upper == approx(rate_of(interval.high, years), rel=1e-5)


def test_rare_failures_give_the_chi_square_table():
    """As gaps get short, trials become a Poisson process: 3 in 150 machine years, one-sided 95 % upper 0.0517.

    Source: reliability 0.9.0, reliability_test_planner: 0.0516910435.
    """
    observed = [Gap(0.01, False, 14_997), Gap(0.01, True, 3)]
    assert hidden_rate_upper_bound(observed, 0.95) == approx(0.0516910435, rel=5e-4)


@settings(max_examples=25)
@given(st.lists(any_gap, min_size=1, max_size=4), st.floats(0.01, 1.5), st.integers(0, 6))
def test_the_chance_is_what_many_simulated_departments_give(observed, rate, number):
    draw = np.random.default_rng(7)
    found = sum(
        draw.binomial(gap.number, 1 - np.exp(-rate * gap.years), size=20_000) for gap in observed
    )  # fmt: skip
    assert chance_of_at_most(number, rate, observed) == approx(float(np.mean(found <= number)), abs=0.02)


@settings(max_examples=40)
@given(st.lists(any_gap, min_size=1, max_size=5), any_gap)
def test_a_failure_more_raises_and_a_clean_gap_more_lowers_the_bound(observed, more):
    bound = hidden_rate_upper_bound(observed, 0.95)
    assert hidden_rate_upper_bound([*observed, Gap(more.years, True)], 0.95) >= bound * (1 - 1e-9)
    assert hidden_rate_upper_bound([*observed, Gap(more.years, False)], 0.95) <= bound * (1 + 1e-9)


def test_the_bound_holds_the_truth_as_often_as_it_says():
    """Departments with unlike gaps and a known rate: the upper bound is below it in at most 5 of 100."""
    draw, rate = np.random.default_rng(11), 0.15
    below = 0
    for _ in range(400):
        found = {years: int(draw.binomial(20, 1 - np.exp(-rate * years))) for years in (0.5, 1.0)}
        observed = [Gap(years, True, n) for years, n in found.items() if n]
        observed += [Gap(years, False, 20 - n) for years, n in found.items() if n < 20]
        below += hidden_rate_upper_bound(observed, 0.95) < rate
    assert below / 400 <= 0.05 + 0.02


def test_nothing_bounds_the_rate_where_every_gap_ended_with_a_failure():
    bounds = hidden_rate_bounds([Gap(1, True, 3)], 0.95)
    assert (bounds.value, bounds.upper) == (inf, inf) and bounds.lower > 0
    with pytest.raises(ValueError, match="one gap"):
        hidden_rate_bounds([], 0.95)
