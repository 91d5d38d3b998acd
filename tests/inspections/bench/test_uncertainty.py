from dataclasses import astuple
from math import cos, inf, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy import stats

from inspections.bench import Accuracy, Dimension, Estimate, Scale
from inspections.bench.uncertainty import (
    combined,
    coverage_factor,
    fit_line,
    from_repeats,
    from_resolution,
    from_simultaneous_repeats,
    propagate,
    sensitivities,
)


def test_the_end_gauge_of_gum_h1_comes_out():
    """Source: JCGM 100:2008, H.1: uc 32 nm, effective dof 16.7 -> 16, k99 2.92, U99 93 nm."""

    def length(standard, difference, alpha, theta, d_alpha, d_theta):
        return standard + difference - standard * (d_alpha * theta + alpha * d_theta)

    inputs = (
        Estimate(50_000_623, 25, 18),
        Estimate(215, 9.7, 25.6),
        Estimate(11.5e-6, 1.2e-6),
        Estimate(-0.1, 0.41),
        Estimate(0, 0.58e-6, 50),
        Estimate(0, 0.029, 2),
    )
    result = propagate(length, inputs)
    assert result.value == approx(50_000_838, abs=0.5)
    assert result.std_uncertainty == approx(sqrt(1002), abs=0.5)
    assert result.dof == approx(16.7, abs=0.2)
    assert coverage_factor(result.dof, 0.99) == approx(2.92, abs=0.005)
    assert result.expanded(0.99) == approx(93, abs=1)


VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
AMPERES = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
RADIANS = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


@pytest.mark.parametrize(
    ("quantity", "value", "std"),
    [
        (lambda v, i, p: v / i * cos(p), 127.732, 0.071),
        (lambda v, i, p: v / i * sin(p), 219.847, 0.2956),
        (lambda v, i, p: v / i, 254.260, 0.2363),
    ],
)
def test_resistance_and_reactance_of_gum_h2_come_out(quantity, value, std):
    """Source: JCGM 100:2008, H.2, table H.3."""
    means, correlation = from_simultaneous_repeats([VOLTS, AMPERES, RADIANS])
    result = propagate(quantity, means, correlation)
    assert (result.value, result.std_uncertainty) == approx((value, std), abs=5e-4)


CELSIUS = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def test_the_thermometer_line_of_gum_h3_comes_out():
    """Source: JCGM 100:2008, H.3.3 and H.3.4."""
    line = fit_line(CELSIUS, CORRECTIONS, origin=20)
    assert (line.intercept.value, line.intercept.std_uncertainty) == approx((-0.1712, 0.0029), abs=5e-5)
    assert (line.slope.value, line.slope.std_uncertainty) == approx((0.00218, 0.00067), abs=5e-6)
    assert line.correlation == approx(-0.930, abs=5e-4)
    assert line.scatter == approx(0.0035, abs=5e-5)
    assert line.slope.dof == 9
    assert (line.at(30).value, line.at(30).std_uncertainty) == approx((-0.1494, 0.0041), abs=5e-5)


def test_a_line_agrees_with_scipy():  # Source: scipy.stats.linregress, an independent implementation
    line, other = fit_line(CELSIUS, CORRECTIONS), stats.linregress(CELSIUS, CORRECTIONS)
    assert (line.slope.value, line.intercept.value) == approx((other.slope, other.intercept))
    assert line.slope.std_uncertainty == approx(other.stderr)
    assert line.intercept.std_uncertainty == approx(other.intercept_stderr)


# Source: JCGM 100:2008, table G.2, columns 95.45 % and 99 %
@pytest.mark.parametrize(("dof", "k", "k99"), [(1, 13.97, 63.66), (5, 2.65, 4.03), (20, 2.13, 2.85), (inf, 2, 2.576)])
def test_coverage_factors_follow_table_g2(dof, k, k99):
    assert (coverage_factor(dof), coverage_factor(dof, 0.99)) == approx((k, k99), abs=0.005)


def test_degrees_of_freedom_are_cut_down_to_a_whole_number():  # Source: JCGM 100:2008, G.4.1, note 1
    assert coverage_factor(16.7) == coverage_factor(16) > coverage_factor(17)


def test_repeats_give_mean_and_its_deviation():
    """By hand: 1, 2, 3 has mean 2, standard deviation 1, so u = 1/sqrt(3) with 2 dof. JCGM 100:2008, 4.2."""
    assert astuple(from_repeats([1, 2, 3])) == approx((2, 1 / sqrt(3), 2))
    with pytest.raises(ValueError, match="at least 2"):
        from_repeats([1])


def test_resolution_is_rectangular():  # Source: JCGM 100:2008, F.2.2.1: u = 0.29 of the step
    assert from_resolution(5, 1).std_uncertainty == approx(0.29, abs=0.002)


def test_a_scale_adds_accuracy_and_resolution():
    """By hand: +/-(1 % of 50 + 0.5 % of 100) = 1 at k = 2 is 0.5; a step of 1 is 0.2887; together 0.5774."""
    scale = Scale(Dimension.PRESSURE, 0, 100, 1, Accuracy(0.01, 0.005))
    assert scale.std_uncertainty(50) == approx(0.57735, abs=5e-6)
    as_limits = Scale(Dimension.PRESSURE, 0, 100, 0, Accuracy(0.01, 0.005, coverage_factor=0))
    assert as_limits.std_uncertainty(50) == approx(1 / sqrt(3))


def test_a_scale_holds_its_ends_and_nothing_beyond():
    scale = Scale(Dimension.PRESSURE, 0, 100e3, 100, Accuracy(0.01))
    assert [scale.holds(value) for value in (-1, 0, 50e3, 100e3, 100_001)] == [False, True, True, True, False]


@pytest.mark.parametrize(
    ("resolution", "accuracy", "named"),
    [(200e3, Accuracy(0.01), "resolution"), (100, Accuracy(of_span=6.0), "of span percent"),
     (100, Accuracy(of_reading=6.0), "of reading percent")],
)  # fmt: skip
def test_numbers_that_no_scale_has_are_refused_by_name(resolution, accuracy, named):
    with pytest.raises(ValueError, match=f"^Scale: {named} "):
        Scale(Dimension.PRESSURE, 0, 100e3, resolution, accuracy)


def test_sensitivities_are_slopes_at_the_value_whatever_the_uncertainty():  # by hand: of x^3 at 2 it is 12
    assert sensitivities(lambda x: x**3, [Estimate(2, 1.0)]) == approx(12, rel=1e-4)


def test_full_correlation_cancels_a_difference_and_doubles_a_sum():  # Source: JCGM 100:2008, 5.2.2, note 1
    pair, alike = (Estimate(5, 0.1), Estimate(4, 0.1)), np.ones((2, 2))
    assert propagate(lambda a, b: a - b, pair, alike).std_uncertainty == approx(0, abs=1e-12)
    assert propagate(lambda a, b: a + b, pair, alike).std_uncertainty == approx(0.2)


@given(st.floats(0, 10), st.floats(0, 10))
def test_adding_uncertainty_never_lessens_it(first, second):
    total = combined(1, (Estimate(1, first), Estimate(0, second))).std_uncertainty
    assert total >= max(first, second) * (1 - 1e-12)


@given(shift=st.floats(-1e3, 1e3))
def test_shifting_every_reading_keeps_the_uncertainty(shift):
    shifted = from_repeats([x + shift for x in VOLTS])
    assert shifted.std_uncertainty == approx(from_repeats(VOLTS).std_uncertainty, abs=1e-9)


@pytest.mark.parametrize("make", [lambda: Estimate(1, -1), lambda: Estimate(1, 1, 0), lambda: Accuracy(-0.1)])
def test_impossible_uncertainties_are_refused(make):
    with pytest.raises(ValueError, match="zero"):
        make()


@pytest.mark.parametrize("value", [0.001, -0.001])
def test_a_root_of_what_may_be_negative_is_refused_and_not_complex(value):
    with pytest.raises(ValueError, match="fractional power of a negative number"):
        propagate(lambda pressure: pressure**0.5, [Estimate(value, 1.0)])
