"""Widths of predictions learnt from results that were predicted without themselves."""

import numpy as np
import pytest

from inspections.trends import Histories, fit, predicted, trends_of, widening_of
from tests.inspections.trends.fleets import drifting, histories


def stepping(seed, *, series=80, count=6):
    """Return times and values of machines that are steady and at times jump for good by a step of the gauge."""
    rng = np.random.default_rng(seed)
    years = np.cumsum(rng.uniform(0.4, 0.6, (series, count)), axis=1)
    jumps = np.cumsum((rng.random((series, count)) < 0.15) * rng.choice([-1.0, 1.0], (series, count)), axis=1)
    return years, rng.normal(0, 3, series)[:, None] + jumps + rng.normal(0, 0.02, (series, count))


def share_held(fitted, years, values):
    low, high = predicted(fitted, years).interval(0.9)
    return ((low <= values) & (values <= high)).mean()


def test_machines_that_jump_are_held_as_often_as_promised_only_with_the_widths_learnt():
    held = {"learnt": [], "model alone": []}
    for seed in range(12):
        years, values = stepping(seed)
        known = histories(years[:, :-1], values[:, :-1], 0.2, np.arange(80) % 4)
        held["learnt"].append(share_held(trends_of(known), years[:, -1], values[:, -1]))
        held["model alone"].append(share_held(fit(known), years[:, -1], values[:, -1]))
    assert np.mean(held["learnt"]) == pytest.approx(0.9, abs=0.03)
    assert np.mean(held["model alone"]) < 0.87


def test_results_that_follow_the_model_are_left_nearly_as_they_are():
    years, _, values, family = drifting(1, series=300)
    assert widening_of(histories(years, values, 0.5, family)) == pytest.approx([1.0], abs=0.15)


def test_no_kind_is_made_narrower():
    years, _, values, family = drifting(2, series=12)
    assert (widening_of(histories(years, values, 0.5, family)) >= 1).all()


def test_with_two_results_each_there_is_nothing_to_learn_from():
    few = Histories.of([0, 0, 1, 1], [0, 1, 0, 1], [5.0, 5.1, 6.0, 6.2], [0.1] * 4)
    assert widening_of(few).tolist() == [1.0]
    assert np.isfinite(predicted(trends_of(few), [2.0, 2.0]).scale).all()


def test_each_kind_learns_from_its_own():
    years, values = stepping(1)
    calm = drifting(1, series=80, count=6)
    series = np.repeat(np.arange(160), 6)
    both = Histories.of(
        series,
        np.concatenate([years, calm[0]]).ravel(),
        np.concatenate([values, calm[2]]).ravel(),
        np.repeat([0.2, 0.5], 480),
        family=np.repeat([0, 1], 80),
        kind=[0, 1],
    )
    jumping, steady = widening_of(both)
    assert jumping > 1.3 > steady
