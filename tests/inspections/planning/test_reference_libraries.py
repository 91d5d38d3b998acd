"""Rates, shares and hidden failures against lifelines and reliability, which other people wrote and keep.

test_rates.py and test_hidden_rate.py hold worked values; here the libraries compute beside Bobbin, over random counts.
Neither library has the exact bound of gaps that differ: simulation and the table of Clopper and Pearson check that one.
"""

from math import exp

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lifelines import ExponentialFitter, KaplanMeierFitter
from pytest import approx
from reliability.Fitters import Fit_Exponential_1P
from reliability.Reliability_testing import one_sample_proportion, reliability_test_planner
from scipy.stats import poisson

from inspections.planning.hidden_rate import hidden_rate_bounds, hidden_rate_upper_bound
from inspections.planning.rates import (
    Gap,
    hidden_failure_rate,
    rate_bounds,
    rate_upper_bound,
    share_bounds,
    share_upper_bound,
    time_between,
)

CONFIDENCES = st.sampled_from([0.8, 0.9, 0.95, 0.99])
few = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
some_gaps = st.lists(st.builds(Gap, st.floats(0.2, 4), st.booleans(), st.integers(1, 30)), min_size=1, max_size=5)


def planned(events, years, confidence, *, one_sided):
    """The lower bound of the time between events by reliability: chi-square, observation ended at a set time."""
    return reliability_test_planner(
        number_of_failures=events, test_duration=years, CI=confidence, one_sided=one_sided, print_results=False
    ).MTBF


@few
@given(st.integers(0, 60), st.floats(0.5, 5000), CONFIDENCES)
def test_the_time_between_findings_is_bounded_as_by_reliability(events, years, confidence):
    assert time_between(events, years, confidence).lower == approx(
        planned(events, years, confidence, one_sided=False), rel=1e-9
    )
    assert rate_upper_bound(events, years, confidence) == approx(
        1 / planned(events, years, confidence, one_sided=True), rel=1e-9
    )


@few
@given(st.integers(1, 60), st.floats(0.5, 5000), CONFIDENCES)
def test_both_bounds_of_a_rate_are_as_rare_as_the_confidence_allows(events, years, confidence):
    """Exact by its own meaning: at the lower bound so many or more, at the upper so many or fewer (scipy's Poisson)."""
    bounds = rate_bounds(events, years, confidence)
    assert poisson.sf(events - 1, bounds.lower * years) == approx((1 - confidence) / 2, rel=1e-6)
    assert poisson.cdf(events, bounds.upper * years) == approx((1 - confidence) / 2, rel=1e-6)


@few
@given(st.integers(0, 40), st.integers(0, 40), CONFIDENCES)
def test_a_share_is_bounded_as_by_reliability(hits, misses, confidence):
    trials = hits + misses or 1
    lower, upper = one_sample_proportion(trials=trials, successes=hits, CI=confidence, print_results=False)
    ours = share_bounds(hits, trials, confidence)
    # Where all trials agree the library takes the whole risk at the one end that is left.
    if hits == 0:
        assert share_upper_bound(hits, trials, confidence) == approx(upper, rel=1e-9)
    elif hits < trials:
        assert (ours.lower, ours.upper) == (approx(lower, rel=1e-9), approx(upper, rel=1e-9))


@few
@given(some_gaps)
def test_the_likeliest_rate_of_hidden_failures_is_that_of_lifelines(observed):
    if not any(gap.failed for gap in observed) or all(gap.failed for gap in observed):
        return
    theirs = ExponentialFitter().fit_interval_censoring(
        [0.0 if gap.failed else gap.years for gap in observed],
        [gap.years if gap.failed else np.inf for gap in observed],
        weights=[gap.number for gap in observed],
    )
    # Its optimiser stops within 1e-4 of the greatest likelihood or so.
    assert hidden_failure_rate(observed).value == approx(1 / theirs.lambda_, rel=1e-3)


@few
@given(st.lists(st.tuples(st.floats(0.05, 15), st.booleans()), min_size=2, max_size=60))
def test_machine_years_with_censoring_give_the_rate_of_both_libraries(lives):
    """Machines watched for so long, some until a finding and some until today: findings by machine years."""
    years, found = np.array([one for one, _ in lives]), np.array([one for _, one in lives])
    if found.sum() < 2:  # reliability asks for two
        return
    ours = rate_bounds(int(found.sum()), float(years.sum()))
    assert ours.value == approx(1 / ExponentialFitter().fit(years, found).lambda_, rel=1e-3)
    censored = list(years[~found]) or None
    theirs = Fit_Exponential_1P(
        failures=list(years[found]), right_censored=censored, show_probability_plot=False, print_results=False
    )
    # Its optimiser sometimes stops early: then what it found is the less likely, by its own likelihood.
    likelihood = int(found.sum()) * np.log(ours.value) - ours.value * float(years.sum())
    assert ours.value == approx(theirs.Lambda, rel=1e-3) or theirs.loglik < likelihood


@pytest.mark.parametrize(("failed", "passed", "years"), [(2, 18, 0.5), (5, 10, 2.0), (1, 29, 1.0)])
def test_of_like_gaps_as_many_survive_as_the_curve_of_kaplan_and_meier_says(failed, passed, years):
    """Without any law of failure: the share that stands after a gap, with its exact interval."""
    times, ends = [years] * (failed + passed), [True] * failed + [False] * passed
    survive = KaplanMeierFitter().fit(times, ends).predict(years)
    observed = [Gap(years, True, failed), Gap(years, False, passed)]
    assert exp(-hidden_failure_rate(observed).value * years) == approx(survive)
    lower, upper = one_sample_proportion(trials=failed + passed, successes=failed, CI=0.9, print_results=False)
    bounds = hidden_rate_bounds(observed, 0.9)
    assert 1 - exp(-bounds.lower * years) == approx(lower, rel=1e-6)
    assert 1 - exp(-bounds.upper * years) == approx(upper, rel=1e-6)
    assert hidden_rate_upper_bound(observed, 0.95) == approx(bounds.upper)
