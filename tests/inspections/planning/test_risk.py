"""The risk score and its interval against the published tables and worked rows."""

import pytest
from hypothesis import given
from hypothesis.strategies import floats, integers, sampled_from
from pytest import approx, mark

from inspections.planning.risk import (
    HALF_SCALE_FUNCTION,
    AdjustedRating,
    Function,
    IntervalRule,
    Maintenance,
    PhysicalRisk,
    RiskScore,
    history_points,
    interval_for,
    shortest,
)


def score(function=10, risk=5, maintenance=5, history=0):
    return RiskScore(Function(function), PhysicalRisk(risk), Maintenance(maintenance), history)


def test_doubling_the_half_scale_table_gives_the_classic_one():
    # Source: South African IUSS health technology guide (half scale, seen); WHO 2011 appendix (classic, from memory)
    classic = (10, 9, 8, 7, 6, 5, 4, 3, 2)
    assert tuple(2 * value for value in HALF_SCALE_FUNCTION.values()) == classic
    assert tuple(HALF_SCALE_FUNCTION) == tuple(Function(value) for value in classic)


@mark.parametrize(
    ("parts", "em", "months"),
    [  # Source: WHO 2011 appendix, from memory, and arithmetic on it
        ((10, 5, 5, 0), 20, 4),
        ((10, 5, 5, -2), 18, 6),
        ((2, 1, 1, 0), 4, None),
        ((6, 3, 3, 0), 12, 12),
        ((6, 3, 3, -1), 11, None),
        ((2, 1, 1, -2), 2, None),
        ((10, 5, 5, 2), 22, 4),
    ],
)
def test_worked_scores_give_their_interval(parts, em, months):
    assert (score(*parts).em, interval_for(score(*parts)).months) == (em, months)


@mark.parametrize(
    ("parts", "em", "months"),
    [  # Boundaries 11/12, 14/15 and 18/19 with maintenance 3, so that the score alone decides. Source as above
        ((6, 3, 3, -1), 11, None),
        ((6, 3, 3, 0), 12, 12),
        ((8, 3, 3, 0), 14, 12),
        ((8, 3, 3, 1), 15, 6),
        ((10, 5, 3, 0), 18, 6),
        ((10, 5, 3, 1), 19, 4),
    ],
)
def test_a_boundary_of_the_score_changes_the_interval(parts, em, months):
    assert (score(*parts).em, interval_for(score(*parts)).months) == (em, months)


@mark.parametrize(
    ("parts", "months"),
    [((7, 5, 1), 12), ((7, 4, 2), 12), ((7, 3, 3), 12), ((6, 3, 4), 6), ((5, 3, 5), 6)],
)
def test_at_one_score_maintenance_alone_sets_six_or_twelve_months(parts, months):  # Source: WHO 2011, from memory
    assert (score(*parts).em, interval_for(score(*parts)).months) == (13, months)


def test_the_shortest_of_all_rules_wins_and_says_why():
    interval = interval_for(score(10, 5, 5, 0))
    assert [rule.months for rule in interval.rules] == [6, 6, 4]
    assert interval.reason == "The score 20 is 19 or more: every 4 months."


def test_a_machine_left_out_says_why():
    assert "below 12" in interval_for(score(2, 1, 1, 0)).reason


@mark.parametrize(
    ("incidents", "months", "points"),
    [  # Source: WHO 2011 appendix, from memory
        (2, 11.9, 2),
        (1, 6, 1),
        (1, 8.9, 1),
        (1, 9, 0),
        (1, 17.9, 0),
        (1, 18, -1),
        (1, 30, -1),
        (1, 30.1, -2),
        (0, 31, -2),
        (0, 24, -1),
        (0, 3, 0),
    ],
)
def test_how_often_it_failed_gives_the_published_points(incidents, months, points):
    assert history_points(incidents, months) == points


@mark.parametrize(("incidents", "months"), [(-1, 12), (1, 0), (1, float("nan"))])
def test_a_history_that_cannot_be_is_refused(incidents, months):
    with pytest.raises(ValueError, match="incidents >= 0 and a time above 0 months"):
        history_points(incidents, months)


@given(first=integers(0, 50), more=integers(0, 20), months=floats(1, 240))
def test_more_failures_in_the_same_time_never_score_lower(first, more, months):
    assert history_points(first + more, months) >= history_points(first, months)


@given(
    function=sampled_from(Function),
    risk=sampled_from(PhysicalRisk),
    maintenance=sampled_from(Maintenance),
    history=integers(-2, 1),
)
def test_a_worse_history_never_lengthens_the_interval(function, risk, maintenance, history):
    before = interval_for(RiskScore(function, risk, maintenance, history)).months
    after = interval_for(RiskScore(function, risk, maintenance, history + 1)).months
    assert (after or 99) <= (before or 99)


def test_no_rule_at_all_is_refused():
    with pytest.raises(ValueError, match="no interval rule"):
        shortest([])


def test_the_first_of_equal_rules_is_named():
    assert shortest([IntervalRule(6, "a"), IntervalRule(6, "b")]).reason == "a"


def test_the_adjusted_rating_matches_the_worked_case():
    # Source: journal paper of 2000, from memory; arithmetic: 46 plain, (10 + 20) x 0.6 + 16 = 34.0
    rating = AdjustedRating(mission=10, risk=10, maintenance=8, use_rate=0.6)
    assert (rating.plain, rating.adjusted) == (46, approx(34.0))


@given(points=floats(0, 10), use=floats(0, 1))
def test_use_never_raises_the_rating_above_the_plain_one(points, use):
    rating = AdjustedRating(points, points, points, use)
    assert rating.adjusted <= rating.plain + 1e-9


@mark.parametrize("wrong", [{"use_rate": 1.1}, {"use_rate": -0.1}, {"mission": -1}])
def test_an_impossible_rating_is_refused(wrong):
    with pytest.raises(ValueError, match="0 to 1|0 or more"):
        AdjustedRating(**{"mission": 10, "risk": 10, "maintenance": 8, "use_rate": 0.6} | wrong)
