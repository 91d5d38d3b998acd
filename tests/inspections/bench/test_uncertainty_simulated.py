"""No result is more certain than a simulation of the same readings says, nor much less certain."""

import numpy as np
import pytest

from inspections.bench import TESTS, get_test
from tests.inspections.bench.simulated_cases import FAMILIES

CASES, DRAWS = 25, 20_000


def compared(family, cases=CASES, draws=DRAWS):
    """For each case and result: its key, root-mean-square error of the draws over u, and the share within U."""
    found = []
    for seed in range(cases):
        case = FAMILIES[family](np.random.default_rng(seed), draws)
        evaluation = get_test(case.code).evaluate(case.sheet, case.context)
        for key, truth in case.truth.items():
            result = evaluation.result(key)
            assert result is not None, (key, evaluation.missing)
            error = truth - result.value_si
            ratio = float(np.sqrt(np.mean(error**2))) / result.std_uncertainty_si
            found.append((key, ratio, float(np.mean(np.abs(error) <= result.expanded_uncertainty_si))))
    return found


@pytest.mark.parametrize("family", FAMILIES)
def test_uncertainty_is_that_of_a_simulation_of_the_same_readings(family):
    """u within 5 % for every case and result; the 95.45 % interval covers 93 to 97 % of all draws of each result."""
    found = compared(family)
    assert [one for one in found if not 0.95 <= one[1] <= 1.05] == []
    covered = {key: np.mean([one[2] for one in found if one[0] == key]) for key in {one[0] for one in found}}
    assert {key: share for key, share in covered.items() if not 0.93 <= share <= 0.97} == {}


def test_every_test_with_uncertainty_is_simulated():
    codes = {make(np.random.default_rng(seed), 2).code for make in FAMILIES.values() for seed in range(2)}
    assert codes == set(TESTS) - {"observation"}
