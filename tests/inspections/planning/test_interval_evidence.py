"""What an interval leaves open, what may be pooled, and what would reverse it."""

from math import inf

import pytest
from pytest import approx
from scipy.stats import poisson_means_test

from inspections.planning.interval_evidence import (
    FEW_YEARS,
    POLICIES,
    Observed,
    bound_of,
    chance_as_bad,
    choose_pool,
    failures_that_reverse,
)
from inspections.planning.rates import Gap


def observed(years, failed=0, words="Norrfell Three"):
    gaps = [Gap(1, False, years - failed)] if years > failed else []
    return Observed(words, (*gaps, *([Gap(1, True, failed)] if failed else [])))


def test_the_worked_rows_of_the_share_of_time():
    """Rate 0.05 and 0.2 a year at 0.5, 1 and 2 years: 1.24, 2.46, 4.84 and 4.84, 9.37, 17.58 %; by hand from
    1 - (1 - exp(-rT))/(rT). Here the upper bound is such a rate: -ln(0.05)/T of clean years.
    """
    for rate, shares in ((0.05, (1.24, 2.46, 4.84)), (0.2, (4.84, 9.37, 17.58))):
        clean = Observed("-", (Gap(2.995732273553991 / rate, False),))
        for years, share in zip((0.5, 1, 2), shares, strict=True):
            found = bound_of(clean, years, 0.95)
            assert (found.rate_upper, 100 * found.share_upper) == (approx(rate), approx(share, abs=0.005))


def test_no_failure_in_48_machine_years_does_not_bear_a_yearly_interval_of_an_essential_procedure():
    """The bound -ln 0.05/48 = 0.0624 a year means 3.06 % of the time; the policy is 2 %."""
    bound = bound_of(observed(48), 1, 0.95)
    assert bound.rate_upper == approx(0.0624, abs=5e-5) and bound.share == 0
    assert 100 * bound.share_upper == approx(3.06, abs=0.01)
    assert not bound.keeps(POLICIES["essential"].most_share) and bound.keeps(POLICIES["other"].most_share)


def test_a_failure_more_than_reversal_says_breaks_the_policy_and_one_less_does_not():
    data, most = observed(400, 1), 0.02
    number = failures_that_reverse(data, 1, 0.95, most)
    assert number > 0

    def with_more(more):
        return bound_of(Observed("-", data.gaps + (Gap(1, True, more),)), 1, 0.95)

    assert not with_more(number).keeps(most)
    assert number == 1 or with_more(number - 1).keeps(most)
    assert failures_that_reverse(observed(20), 1, 0.95, most) == 0


def test_enough_data_stand_alone():
    pool = choose_pool(observed(int(FEW_YEARS)), observed(900, words="other Norrfell machines"))
    assert not pool.is_pooled and "stand alone" in pool.reason


def test_few_data_are_pooled_with_a_family_that_is_no_better():
    pool = choose_pool(observed(10), observed(200, 4, words="other Norrfell machines"))
    assert pool.is_pooled and (pool.observed.years, pool.observed.failed) == (210, 4)


def test_a_model_that_fails_more_often_is_not_hidden_in_its_family():
    pool = choose_pool(observed(10, 3), observed(200, 4, words="other Norrfell machines"))
    assert not pool.is_pooled and pool.observed.failed == 3 and "fails more often" in pool.reason


@pytest.mark.parametrize("family", [None, Observed("others", ())])
def test_few_data_without_a_family_stand_alone(family):
    assert not choose_pool(observed(10), family).is_pooled


def test_the_comparison_of_two_rates_is_the_conditional_one():
    """3 of 7 failures in 10 of 210 years: sum of binomial terms by hand, 0.00327; a test of another kind agrees in
    sign (scipy, poisson_means_test, the E-test).
    """
    chance = chance_as_bad(observed(10, 3), observed(200, 4))
    assert chance == approx(0.00327, abs=5e-5)
    assert poisson_means_test(3, 10, 4, 200, alternative="greater").pvalue < 0.05
    assert chance_as_bad(observed(10), observed(200)) == 1.0


def test_where_every_inspection_finds_one_nothing_keeps_the_policy():
    bound = bound_of(Observed("-", (Gap(1, True, 2),)), 1, 0.95)
    assert (bound.rate_upper, bound.share_upper, bound.at_the_end) == (inf, 1.0, 1.0)


def test_every_policy_says_where_its_numbers_are_from():
    assert all(policy.source and 0 < policy.most_share < 1 for policy in POLICIES.values())
