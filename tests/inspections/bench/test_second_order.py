"""Where first order is not enough, three points along each source are (criterion: JCGM 101:2008, clause 8)."""

import numpy as np
import pytest

from inspections.bench.propagation import Measured, propagate_measured
from inspections.bench.uncertainty import Estimate, propagate

DRAWS = 400_000
WITHIN = 0.05  # half a unit of the second significant digit of u, at most


def simulated(function, measured, seed=1):
    """Root-mean-square distance from the value shown, of draws in which one scale has one error (JCGM 101:2008, 7)."""
    random = np.random.default_rng(seed)
    shared = {key: random.standard_normal(DRAWS) for key in {one.scale for one in measured}}
    ambient = random.standard_normal(DRAWS)
    drawn = [
        one.value
        + one.own_std * random.standard_normal(DRAWS)
        + one.shared_std * shared[one.scale]
        + one.ambient_std * ambient
        for one in measured
    ]
    return float(np.sqrt(np.mean((function(*drawn) - function(*(one.value for one in measured))) ** 2)))


SCALE = ("G-1 pressure", 0)
CASES = {
    "a square near zero": (lambda x: x**2, [Measured(0.0, shared_std=1.0)], True),
    "a parabola beside its vertex": (lambda x: x**2 + x, [Measured(0.2, own_std=1.0)], True),
    "a ratio of two readings of one scale": (
        lambda a, b: a / b,
        [Measured(10.0, 0.5, 2.0, scale=SCALE), Measured(40.0, 0.5, 3.0, scale=SCALE)],
        False,
    ),
    "an absolute pressure over another, both less the same ambient": (
        lambda a, b: (a + 100) / (b + 100),
        [
            Measured(200.0, 1.0, 2.0, scale=SCALE, ambient_std=-1.0),
            Measured(50.0, 1.0, 1.0, scale=SCALE, ambient_std=-1.0),
        ],
        False,
    ),
    "an exponential": (np.exp, [Measured(0.0, own_std=0.6)], True),
}


@pytest.mark.parametrize("name", CASES)
def test_u_agrees_with_a_simulation_where_first_order_fails_and_where_it_would_do(name):
    function, measured, is_curved = CASES[name]
    expected = simulated(function, measured)
    assert propagate_measured(function, measured).std_uncertainty == pytest.approx(expected, rel=WITHIN)
    if len(measured) == 1:
        first = propagate(function, [Estimate(one.value, one.own_std + one.shared_std) for one in measured])
        assert (abs(first.std_uncertainty - expected) > WITHIN * expected) == is_curved


@pytest.mark.parametrize("std", [0.4, 3.0, 300.0])
def test_near_the_end_of_what_a_root_takes_the_slope_at_the_value_counts(std):
    """By hand: the slope of a root at 1/2 is 1/(2 sqrt(1/2)); each of these reaches below zero at its outer points."""
    found = propagate_measured(lambda x: x**0.5, [Measured(0.5, own_std=std)])
    assert found.std_uncertainty == pytest.approx(std / (2 * 0.5**0.5), rel=0.02)
