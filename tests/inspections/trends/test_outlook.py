"""When a trend passes a limit, and whether to come earlier or to measure better."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.trends import Advice, line_alone, outlook, predicted

NONE = np.nan
FALLING = line_alone(range(5), [25.2, 24.6, 24.3, 23.5, 23.1], [0.4] * 5)  # psi, yearly
ADVICE = list(Advice)


def of(fitted=FALLING, *, due=5.0, lower=22.0, upper=NONE, now=4.0, policy=0.05):
    return outlook(fitted, [due], [lower], [upper], now=now, policy=policy)


def test_the_worked_trip_pressures_are_outside_next_year_with_a_chance_of_17_percent():
    found = of()
    assert found.chance[0] == pytest.approx(0.17, abs=0.005)
    assert 4.0 < found.beyond[0] < 5.0


@pytest.mark.parametrize("policy", [0.01, 0.05, 0.2, 0.5])
@pytest.mark.parametrize("lower", [19.0, 20.0, 22.0])
def test_at_the_date_given_the_chance_is_that_of_the_policy(policy, lower):
    at = of(lower=lower, policy=policy).beyond
    chance = [predicted(FALLING, at + days / 365).outside(lower, NONE)[0] for days in (-2, 0)]
    assert chance[0] <= policy < chance[1] or at[0] == 4.0


def test_what_is_outside_already_is_outside_today():
    assert of(lower=24.0).beyond[0] == 4.0


@pytest.mark.parametrize("limits", [{"lower": NONE, "upper": NONE}, {"lower": -1e6}, {"lower": NONE, "upper": 1e6}])
def test_without_a_limit_or_with_a_far_one_there_is_no_date_and_no_advice(limits):
    found = of(**limits)
    assert np.isnan(found.beyond[0])
    assert ADVICE[found.advice[0]] is Advice.NOTHING


def test_a_drift_to_the_limit_asks_to_come_earlier():
    assert ADVICE[of(lower=22.5).advice[0]] is Advice.COME_EARLIER


def test_a_steady_machine_near_its_limit_that_is_measured_coarsely_asks_for_a_better_measurement():
    steady = line_alone(range(12), [23.0] * 12, [0.4] * 12)
    found = of(steady, due=12.0, now=11.0, lower=22.4)
    assert found.chance[0] > 0.05 > found.without_measuring[0]
    assert ADVICE[found.advice[0]] is Advice.MEASURE_BETTER


def test_a_limit_above_is_met_as_one_below_is():
    rising = line_alone(range(5), [-25.2, -24.6, -24.3, -23.5, -23.1], [0.4] * 5)
    above, below = of(rising, lower=NONE, upper=-22.0), of()
    assert above.chance[0] == pytest.approx(below.chance[0])
    assert above.beyond[0] == pytest.approx(below.beyond[0])


@given(sooner=st.floats(0.1, 3.0))
def test_a_machine_that_drifts_to_its_limit_is_outside_later_rather_than_sooner(sooner):
    assert of(due=8.0 - sooner).chance[0] < of(due=8.0).chance[0]


@given(lower=st.floats(10, 22), nearer=st.floats(0.1, 3))
def test_a_nearer_limit_is_passed_earlier(lower, nearer):
    far, near = of(lower=lower).beyond[0], of(lower=lower + nearer).beyond[0]
    assert np.isnan(far) or near <= far


@pytest.mark.parametrize("policy", [0.0, 1.0, 5.0])
def test_a_policy_is_a_chance(policy):
    with pytest.raises(ValueError, match="between 0 and 1"):
        of(policy=policy)
