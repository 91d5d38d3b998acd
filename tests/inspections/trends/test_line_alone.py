"""A line through one machine's results, against certified and published values and scipy."""

from math import sqrt

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit

from inspections.trends import line_alone, predicted, scatter_about

# NIST Statistical Reference Datasets, linear regression, Norris (calibration of ozone monitors): y, then x.
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
    557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2,
    0.2,
]  # fmt: skip
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5,
    11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1,
    448.9, 0.5,
]  # fmt: skip
CERTIFIED = (-0.262323073774029, 1.00211681802045, 0.232818234301152, 0.429796848199937e-03, 0.884796396144373)
# JCGM 100:2008, H.3: thermometer readings and corrections, in degrees Celsius; line about 20 C.
READ = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
PSI = [25.2, 24.6, 24.3, 23.5, 23.1]  # the trip pressures of a machine at five yearly inspections


def through(x, y):
    """Return the line through points of equal weight, with the scatter about it as their uncertainty."""
    scatter = scatter_about(line_alone(x, y, [1.0] * len(x)), x, y)
    return line_alone(x, y, [scatter] * len(x), dof=len(x) - 2), scatter


def drift_of(fitted, x):
    """Return the value of the line at x with its standard uncertainty, without the scatter of a new point."""
    away = x - fitted.middle[0]
    return predicted(fitted, [x]).value[0], sqrt(fitted.level_var[0] + fitted.slope_var[0] * away**2)


def test_norris_gives_the_certified_values():
    fitted, scatter = through(NORRIS_X, NORRIS_Y)
    intercept, intercept_std = drift_of(fitted, 0.0)
    found = (intercept, fitted.slope[0], intercept_std, sqrt(fitted.slope_var[0]), scatter)
    assert found == pytest.approx(CERTIFIED, rel=1e-9)


def test_the_thermometer_of_the_gum_gives_its_line_and_its_correction_at_30_degrees():
    fitted, scatter = through(READ, CORRECTION)
    intercept, intercept_std = drift_of(fitted, 20.0)
    assert (intercept, intercept_std) == pytest.approx((-0.1712, 0.0029), abs=6e-5)
    assert (fitted.slope[0], sqrt(fitted.slope_var[0])) == pytest.approx((0.00218, 0.00067), abs=6e-6)
    assert scatter == pytest.approx(0.0035, abs=6e-5)
    assert drift_of(fitted, 30.0) == pytest.approx((-0.1494, 0.0041), abs=6e-5)


def test_the_worked_trip_pressures_give_next_years_value_and_the_chance_below_22_psi():
    # Worked by hand: slope -5.3/10, mean 24.14; u 0.4 at x = 3 from the middle: 0.4 sqrt(1 + 1/5 + 9/10).
    known = predicted(line_alone(range(5), PSI, [0.4] * 5), [5.0])
    assert (known.value[0], known.scale[0]) == pytest.approx((22.55, 0.5797), abs=1e-4)
    assert known.outside(22.0, np.nan)[0] == pytest.approx(0.17, abs=0.005)
    three = predicted(line_alone(range(5), PSI, [0.4] * 5, dof=3), [5.0])
    assert three.outside(22.0, np.nan)[0] == pytest.approx(0.21, abs=0.005)


def test_unequal_uncertainties_weigh_as_scipys_curve_fit_weighs_them():
    x, y = np.arange(7.0), np.array([3.0, 3.4, 4.1, 4.2, 5.5, 5.3, 6.4])
    u = np.array([0.1, 0.4, 0.2, 0.5, 0.3, 0.2, 0.6])
    found, covariance = curve_fit(lambda at, a, b: a + b * at, x, y, sigma=u, absolute_sigma=True)
    ours = line_alone(x, y, u)
    assert (drift_of(ours, 0.0)[0], ours.slope[0]) == pytest.approx(tuple(found), rel=1e-6)
    assert (drift_of(ours, 0.0)[1] ** 2, ours.slope_var[0]) == pytest.approx(tuple(np.diag(covariance)), rel=1e-6)


def test_equal_uncertainties_give_scipys_regression():
    fitted, _ = through(range(5), PSI)
    theirs = stats.linregress(range(5), PSI)
    assert (fitted.slope[0], sqrt(fitted.slope_var[0])) == pytest.approx((theirs.slope, theirs.stderr))


@pytest.mark.parametrize(
    ("years", "std"), [([0.0], [1.0]), ([1.0, 1.0], [1.0, 1.0]), ([0.0, 1.0], [1.0, 0.0]), ([], [])]
)
def test_too_few_points_or_an_uncertainty_of_zero_is_refused(years, std):
    with pytest.raises(ValueError, match="needs 2 results"):
        line_alone(years, [5.0] * len(years), std)


def test_a_scatter_about_two_points_is_refused():
    with pytest.raises(ValueError, match="3 points"):
        scatter_about(line_alone([0, 1], [1, 2], [1, 1]), [0, 1], [1, 2])
