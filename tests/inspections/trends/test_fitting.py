"""Trends of a whole fleet: shrinking to the family, repairs, outliers, against integration, scipy and truth."""

from math import exp, inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from inspections.trends import Histories, Hyper, fit, fit_given, line_alone, predicted
from tests.inspections.trends.fleets import drifting, histories
from tests.inspections.trends.test_line_alone import CERTIFIED, NORRIS_X, NORRIS_Y

TIMES, VALUES, STD = np.array([0.0, 1.1, 1.9]), np.array([25.0, 24.2, 24.1]), np.array([0.4, 0.3, 0.5])
SLOPE, SLOPE_STD, LEVEL, LEVEL_STD = -0.2, 0.3, 24.5, 0.7


def known(**changes):
    given = {
        "slope": SLOPE, "slope_var": SLOPE_STD**2, "level": LEVEL, "level_var": LEVEL_STD**2,
        "scatter": 1.0, "tails": 1e9, "slope_doubt": 0.0, "level_doubt": 0.0,
    }  # fmt: skip
    return Hyper(**{name: np.array([value]) for name, value in (given | changes).items()})


def one_machine(stretch=None):
    return Histories.of([0] * 3, TIMES, VALUES, STD, stretch=stretch)


def integrated(weigh, values=VALUES):
    """Return the mean of weigh(level, slope) under the posterior, by numerical integration over both."""
    middle = TIMES.mean()

    def posterior(level, slope):
        away = (values - level - slope * (TIMES - middle)) / STD
        prior = ((level - LEVEL) / LEVEL_STD) ** 2 + ((slope - SLOPE) / SLOPE_STD) ** 2
        return exp(-((away**2).sum() + prior) / 2)

    def over_levels(slope, what):
        return quad(lambda level: what(level, slope) * posterior(level, slope), 21, 28)[0]

    def total(what):
        return quad(over_levels, -3, 3, args=(what,))[0]

    return total(weigh) / total(lambda level, slope: 1.0)


def test_a_machine_in_a_known_family_has_the_posterior_of_numerical_integration():
    fitted = fit_given(one_machine(), known())
    slope, level = integrated(lambda a, b: b), integrated(lambda a, b: a)
    assert (fitted.slope[0], fitted.level[0]) == pytest.approx((slope, level), rel=1e-6)
    variances = [integrated(lambda a, b: (b - slope) ** 2), integrated(lambda a, b: (a - level) ** 2)]
    assert [fitted.slope_var[0], fitted.level_var[0]] == pytest.approx(variances, rel=1e-5)
    assert fitted.covariance[0] == pytest.approx(integrated(lambda a, b: (a - level) * (b - slope)), rel=1e-4)


@pytest.mark.parametrize("years", [-2.0, 6.0])
def test_what_is_predicted_varies_as_numerical_integration_says(years):
    found = predicted(fit_given(one_machine(), known()), [years])
    away = years - TIMES.mean()
    mean = integrated(lambda a, b: a + b * away)
    drift = integrated(lambda a, b: (a + b * away - mean) ** 2)
    assert found.value[0] == pytest.approx(mean, rel=1e-6)
    assert found.scale[0] ** 2 == pytest.approx(drift + (STD**2).mean(), rel=1e-5)


def test_a_family_that_says_nothing_leaves_the_line_of_the_machine_alone():
    fitted = fit_given(one_machine(), known(slope_var=1e8, level_var=1e8))
    alone = line_alone(TIMES, VALUES, STD)
    ours, theirs = predicted(fitted, [3.0]), predicted(alone, [3.0])
    assert (ours.value[0], fitted.slope[0]) == pytest.approx((theirs.value[0], alone.slope[0]), rel=1e-5)
    assert fitted.slope_var[0] == pytest.approx(alone.slope_var[0], rel=1e-5)


def test_many_results_say_what_certified_least_squares_says():
    # NIST StRD, Norris; the prior of a family of one weighs a thousandth of 36 points.
    fitted = fit(Histories.of([0] * 36, NORRIS_X, NORRIS_Y, [CERTIFIED[4]] * 36))
    assert fitted.slope[0] == pytest.approx(CERTIFIED[1], rel=1e-3)
    assert predicted(fitted, [0.0]).value[0] == pytest.approx(CERTIFIED[0], abs=0.3)


def test_three_results_tell_the_slope_of_a_machine_better_with_its_family_than_alone():
    together, alone = [], []
    for seed in range(10):
        years, slope, values, family = drifting(seed, count=3)
        together.append(fit(histories(years, values, 0.5, family)).slope - slope)
        lines = [line_alone(x, y, [0.5] * 3).slope[0] for x, y in zip(years, values, strict=True)]
        alone.append(np.array(lines) - slope)
    assert np.std(together) < 0.7 * np.std(alone)


def test_an_outlier_moves_the_slope_as_little_as_theil_and_sen_let_it():
    years, _, values, family = drifting(4, count=7)
    spoilt = values.copy()
    spoilt[0, 5] += 20.0
    before, after = (fit(histories(years, these, 0.5, family)).slope[0] for these in (values, spoilt))
    theirs = [stats.theilslopes(these[0], years[0]).slope for these in (values, spoilt)]
    squares = [stats.linregress(years[0], these[0]).slope for these in (values, spoilt)]
    assert abs(after - before) < max(0.3, abs(theirs[1] - theirs[0]))
    assert abs(after - before) < 0.2 * abs(squares[1] - squares[0])


@pytest.mark.parametrize("error", [0.2, 0.5, 1.5])
def test_the_scatter_of_a_fleet_is_found_whatever_was_stated(error):
    years, _, values, family = drifting(5, series=200, error=error)
    fitted = fit(histories(years, values, 0.5, family))
    assert np.median(np.sqrt(fitted.scatter * fitted.base_variance)) == pytest.approx(error, rel=0.2)


@pytest.mark.parametrize("tails", [None, 4.0])
def test_nine_of_ten_intervals_hold_the_next_result_of_a_simulated_fleet(tails):
    inside = []
    for seed in range(80):
        years, _, values, family = drifting(seed, count=5, tails=tails)
        fitted = fit(histories(years[:, :-1], values[:, :-1], 0.5, family))
        low, high = predicted(fitted, years[:, -1]).interval(0.9)
        inside.append((low <= values[:, -1]) & (values[:, -1] <= high))
    assert np.mean(inside) == pytest.approx(0.9, abs=0.015)


def test_after_a_repair_the_level_is_that_of_the_family_and_the_slope_that_of_the_machine():
    stretch = np.array([0, 0, 1])
    fitted = fit_given(one_machine(stretch), known(level_var=1e8))
    assert fitted.level[0] == pytest.approx(VALUES[2], abs=1e-4)
    assert fitted.results[0] == 1
    assert fitted.slope[0] < SLOPE  # the two results before fall faster than the family


@given(jump=st.floats(-50, 50))
def test_a_repair_forgets_the_level_before_it(jump):
    values = VALUES + np.array([jump, jump, 0.0])
    moved = Histories.of([0] * 3, TIMES, values, STD, stretch=[0, 0, 1])
    free = known(level_var=1e10)
    assert fit_given(moved, free).level[0] == pytest.approx(fit_given(one_machine([0, 0, 1]), free).level[0], abs=1e-3)


FLEET = drifting(8, series=24, count=4)


def chances(years, values, std, *, due, lower):
    found = predicted(fit(histories(years, values, std, FLEET[3])), due)
    return found.outside(np.broadcast_to(lower, found.value.shape), np.nan)


@given(factor=st.floats(1e-6, 1e6))
def test_the_unit_of_entry_does_not_matter(factor):
    years, _, values, _ = FLEET
    here = chances(years, values, 0.5, due=years[:, -1] + 1, lower=-5.0)
    there = chances(years, factor * values, factor * 0.5, due=years[:, -1] + 1, lower=factor * -5.0)
    assert there == pytest.approx(here, rel=1e-5, abs=1e-9)


@given(years_later=st.floats(-3000, 3000), more=st.floats(-1000, 1000))
def test_shifting_all_times_or_all_values_does_not_matter(years_later, more):
    years, _, values, _ = FLEET
    here = chances(years, values, 0.5, due=years[:, -1] + 1, lower=-5.0)
    there = chances(years + years_later, values + more, 0.5, due=years[:, -1] + 1 + years_later, lower=more - 5.0)
    assert there == pytest.approx(here, rel=1e-4, abs=1e-7)


@given(order=st.permutations(range(6)))
def test_the_order_in_which_results_are_given_does_not_matter(order):
    series, years = np.array([0, 0, 0, 1, 1, 1]), np.array([0.0, 1.0, 2.0, 0.5, 1.0, 3.0])
    values, std = np.array([5.0, 5.5, 6.2, 4.0, 4.1, 4.9]), np.full(6, 0.3)
    place = np.array(order)
    here = fit(Histories.of(series, years, values, std))
    there = fit(Histories.of(series[place], years[place], values[place], std[place]))
    assert there.slope == pytest.approx(here.slope)


@given(more=st.floats(1.05, 20))
def test_less_certain_results_widen_what_is_predicted(more):
    history = one_machine()
    vague = Histories.of([0] * 3, TIMES, VALUES, more * STD)
    sharp, wide = (predicted(fit_given(one, known()), [3.0]).scale[0] for one in (history, vague))
    assert wide > sharp


def test_no_series_is_refused():
    with pytest.raises(ValueError, match="no result"):
        fit(Histories.of([], [], [], []))


def test_identical_results_without_uncertainty_have_a_flat_finite_trend():
    fitted = fit(Histories.of([0, 0, 0], [0, 1, 2], [5.0, 5.0, 5.0], [0.0, 0.0, 0.0]))
    found = predicted(fitted, [3.0])
    assert found.value[0] == pytest.approx(5.0)
    assert 0 < found.scale[0] < 1e-3
    assert found.scale[0] < inf
