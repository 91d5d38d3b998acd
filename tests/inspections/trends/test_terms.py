"""Trends as plain numbers: what is stored predicts as it did."""

import json

import numpy as np
import pytest
from scipy import stats

from inspections.trends import fit, fitted_from, line_alone, predicted, slope_interval, terms_of
from tests.inspections.trends.fleets import drifting, histories

YEARS, _, VALUES, FAMILY = drifting(7)
FITTED = fit(histories(YEARS, VALUES, 0.5, FAMILY))


def test_stored_as_json_and_read_back_every_trend_predicts_the_same():
    stored = json.loads(json.dumps([terms_of(FITTED, number) for number in range(60)]))
    ours, theirs = (predicted(one, YEARS[:, -1] + 1) for one in (fitted_from(stored), FITTED))
    assert ours.value == pytest.approx(theirs.value)
    assert ours.interval()[0] == pytest.approx(theirs.interval()[0])
    assert ours.machine_var == pytest.approx(theirs.machine_var)


def test_the_interval_of_a_slope_alone_is_that_of_the_regression():
    x, y = np.arange(6.0), np.array([5.0, 5.4, 5.2, 5.9, 6.1, 6.0])
    theirs = stats.linregress(x, y)
    scatter = theirs.stderr * np.sqrt(((x - x.mean()) ** 2).sum())
    low, high = slope_interval(line_alone(x, y, [scatter] * 6, dof=4))
    half = stats.t.ppf(0.95, 4) * theirs.stderr
    assert (low[0], high[0]) == pytest.approx((theirs.slope - half, theirs.slope + half))


@pytest.mark.parametrize("probability", [0.0, 1.0, 2.0])
def test_the_interval_of_a_slope_needs_a_probability(probability):
    with pytest.raises(ValueError, match="between 0 and 1"):
        slope_interval(FITTED, probability)
