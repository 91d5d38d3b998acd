"""Results as flat arrays: what is accepted, and the variance that each starts with."""

import numpy as np
import pytest

from inspections.trends import Histories


def test_results_are_sorted_by_series_and_time():
    found = Histories.of([1, 0, 0], [5.0, 2.0, 1.0], [50.0, 20.0, 10.0], [1.0, 1.0, 1.0])
    assert (found.series.tolist(), found.values.tolist()) == ([0, 0, 1], [10.0, 20.0, 50.0])


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"years": [0.0]}, "one length"),
        ({"values": [1.0, np.nan]}, "finite"),
        ({"std": [1.0, -1.0]}, "below zero"),
        ({"series": [0, -1]}, "below zero"),
        ({"series": [0, 2]}, "a result each"),
        ({"family": [0]}, "a family each"),
        ({"family": [0, 1], "kind": [0]}, "a kind"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(changes, words):
    given = {"series": [0, 1], "years": [0.0, 0.0], "values": [1.0, 2.0], "std": [1.0, 1.0]} | changes
    with pytest.raises(ValueError, match=words):
        Histories.of(**given)


def test_a_stretch_begins_with_each_series_and_after_each_repair():
    found = Histories.of([0, 0, 0, 1, 1], [0, 1, 2, 0, 1], [1] * 5, [1] * 5, stretch=[0, 0, 1, 0, 0])
    assert found.starts_of_stretches().tolist() == [0, 2, 3]


def test_a_result_keeps_its_uncertainty_but_no_less_than_a_tenth_of_the_familys():
    found = Histories.of([0, 0, 0], [0, 1, 2], [1, 2, 3], [2.0, 1.0, 0.0]).base_variances()
    assert found == pytest.approx([4.0, 1.0, 0.01 * 5 / 3])


def test_without_uncertainties_the_steps_between_results_say_how_far_they_scatter():
    found = Histories.of([0, 0, 0, 1, 1], [0, 1, 2, 0, 1], [1.0, 3.0, 3.0, 100.0, 102.0], [0.0] * 5)
    assert found.base_variances() == pytest.approx([(4 + 0 + 4) / 3 / 2] * 5)


def test_a_kind_varies_if_any_machine_of_it_ever_changed():
    series, years, values = [0, 0, 1, 1, 2, 2], [0, 1] * 3, [5.0, 5.0, 5.0, 6.0, 7.0, 7.0]
    found = Histories.of(series, years, values, [0.1] * 6, family=[0, 1, 2], kind=[0, 0, 1])
    assert found.do_vary().tolist() == [True, False]
