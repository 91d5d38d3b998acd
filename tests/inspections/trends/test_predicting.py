"""Predictions: intervals, chances, the parts of the variance, against scipy's distributions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inspections.trends import fit, line_alone, predicted
from tests.inspections.trends.fleets import drifting, histories

YEARS, _, VALUES, FAMILY = drifting(11)
FITTED = fit(histories(YEARS, VALUES, 0.5, FAMILY))


def test_interval_chance_surprise_and_density_are_those_of_students_t():
    found = predicted(FITTED, YEARS[:, -1] + 1)
    theirs = stats.t(found.dof, found.value, found.scale)
    low, high = found.interval(0.9)
    assert low == pytest.approx(theirs.ppf(0.05))
    assert high == pytest.approx(theirs.ppf(0.95))
    assert found.outside(-1.0, 1.0) == pytest.approx(theirs.cdf(-1.0) + theirs.sf(1.0))
    assert found.surprise(high) == pytest.approx(np.full(60, 0.1))
    assert found.log_density(VALUES[:, -1]) == pytest.approx(theirs.logpdf(VALUES[:, -1]))


def test_the_parts_add_up_to_the_square_of_the_scale():
    found = predicted(FITTED, YEARS[:, -1] + 1)
    parts = found.level_var + found.slope_var + found.machine_var + found.measured_var
    assert parts == pytest.approx(found.scale**2)


def test_scatter_above_what_was_stated_is_the_machines_and_below_it_the_measurements():
    stated_small, stated_large = (fit(histories(YEARS, VALUES, std, FAMILY)) for std in (0.1, 2.0))
    small, large = (predicted(one, YEARS[:, -1] + 1) for one in (stated_small, stated_large))
    assert np.median(small.machine_var) > 10 * np.median(small.measured_var)
    assert large.machine_var.max() == 0.0


@given(first=st.floats(0, 5), later=st.floats(0.1, 20))
def test_the_farther_ahead_the_less_certain(first, later):
    line = line_alone([0, 1, 2], [5.0, 5.2, 5.1], [0.2, 0.2, 0.2])
    near, far = (predicted(line, [2 + years]).scale[0] for years in (first, first + later))
    assert far > near


def test_a_prediction_of_something_measured_better_is_narrower():
    usual = predicted(FITTED, YEARS[:, -1])
    better = predicted(FITTED, YEARS[:, -1], variances=FITTED.base_variance / 100)
    assert (better.scale < usual.scale).all()


def test_without_the_measurement_a_sure_prediction_is_outside_or_not():
    line = line_alone([0, 1, 2], [5.0, 5.0, 5.0], [1e-9, 1e-9, 1e-9])
    found = predicted(line, [3.0], variances=[1.0])
    assert found.outside(4.0, 6.0)[0] == pytest.approx(2 * stats.norm.sf(1.0))
    assert found.outside(4.0, 6.0, measured=False)[0] == pytest.approx(0.0, abs=1e-12)
    assert found.outside(5.5, 6.0, measured=False)[0] == pytest.approx(1.0)


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, 90.0])
def test_an_interval_needs_a_probability(probability):
    with pytest.raises(ValueError, match="between 0 and 1"):
        predicted(FITTED, YEARS[:, -1]).interval(probability)
