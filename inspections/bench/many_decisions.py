"""The rule of decisions.py and judging.py for many stored results under one limit, in arrays.

What was measured stays as it was: values, uncertainties and coverage factors are those of the records. Results whose
challenge was not met have no place here; no limit can judge them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.late import np, special

from .decisions import RELATIVE_ROUNDING, Decision
from .limits import Limit
from .uncertainty import WELL_KNOWN_DOF

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

ORDER = (Decision.PASS, Decision.CONDITIONAL_PASS, Decision.CONDITIONAL_FAIL, Decision.FAIL, Decision.NOT_DECIDED)
"""The decisions by the numbers that stand for them in an array."""
PASS, CONDITIONAL_PASS, CONDITIONAL_FAIL, FAIL, NOT_DECIDED = range(len(ORDER))
_ROUNDING = 1 + 1e-9
BLOCK = 16_384
"""Results decided at a time: their arrays stay in the cache of the processor."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Results as stored, in SI; arrays of one length n.

    values, std, expanded  value, standard and expanded uncertainty
    dof                    effective degrees of freedom, inf where the uncertainty is well known
    """

    values: NDArray[np.float64]
    std: NDArray[np.float64]
    expanded: NDArray[np.float64]
    dof: NDArray[np.float64]

    @classmethod
    def of(cls, values: ArrayLike, std: ArrayLike, expanded: ArrayLike, dof: ArrayLike) -> Measured:
        """Return the arrays. Raises ValueError for lengths that differ or a value that is not finite."""
        arrays = [np.asarray(one, dtype=float) for one in (values, std, expanded, dof)]
        if len({array.shape for array in arrays}) != 1 or arrays[0].ndim != 1:
            raise ValueError(f"Values, uncertainties and dof need one length, got {[one.shape for one in arrays]}.")
        if not all(np.isfinite(one).all() for one in arrays[:3]) or (arrays[1] < 0).any():
            raise ValueError("Values and uncertainties must be finite, and no uncertainty below zero.")
        return cls(*arrays)

    def part(self, which: slice) -> Measured:
        """Return some of the results."""
        return Measured(self.values[which], self.std[which], self.expanded[which], self.dof[which])


def decide_many(measured: Measured, limit: Limit) -> NDArray[np.int8]:
    """Return for each result the number of its decision in ORDER, as `judging.settle` gives it under `limit`.

    Source: ILAC-G8:09/2019; JCGM 106:2012, clauses 7 and 8.
    """
    found = np.empty(len(measured.values), dtype=np.int8)
    for start in range(0, len(found), BLOCK):
        block = slice(start, start + BLOCK)
        found[block] = _decide(measured.part(block), limit)
    return found


def _decide(measured, limit):
    distances = _distances_inside(measured.values, limit)
    worst = np.max([_classified(inside, measured.expanded, scale, limit.strict) for inside, scale in distances], axis=0)
    worst[_is_too_coarse(measured, limit, worst, distances)] = NOT_DECIDED
    return worst


def _distances_inside(values, limit):
    found = []
    if limit.lower_si is not None:
        found.append((values - limit.lower_si, np.maximum(np.abs(values), abs(limit.lower_si))))
    if limit.upper_si is not None:
        found.append((limit.upper_si - values, np.maximum(np.abs(values), abs(limit.upper_si))))
    return found


def _classified(inside, guard, scale, strict):
    slack = RELATIVE_ROUNDING * np.maximum(scale, guard)
    within = inside > slack if strict else inside >= -slack
    beyond = (inside + guard < -slack) | (strict & (guard == 0))
    ways = [within & (inside - guard >= -slack), within, ~beyond]
    return np.select(ways, [PASS, CONDITIONAL_PASS, CONDITIONAL_FAIL], FAIL).astype(np.int8)


def _is_too_coarse(measured, limit, decisions, distances):
    is_conditional = (decisions == CONDITIONAL_PASS) | (decisions == CONDITIONAL_FAIL)
    if limit.tolerance_si is None:
        coarse = np.zeros(len(decisions), dtype=bool)
    else:
        coarse = measured.expanded > limit.tolerance_si / 2 * _ROUNDING
    doubtful = decisions == CONDITIONAL_PASS
    doubtful[doubtful] = _probabilities(measured, limit, distances, doubtful) < limit.floor / _ROUNDING
    return is_conditional & (coarse | doubtful)


def _probabilities(measured, limit, distances, chosen):
    """Return the probability of conformity of the chosen results; see decisions.probability_of_conformity."""
    values, std, dof = measured.values[chosen], measured.std[chosen], _whole(measured.dof[chosen])
    exact = std == 0
    safe = np.where(exact, 1.0, std) if exact.any() else std
    above = 1.0 if limit.lower_si is None else _below((values - limit.lower_si) / safe, dof)
    beyond = 0.0 if limit.upper_si is None else _below((values - limit.upper_si) / safe, dof)
    if not exact.any():
        return np.maximum(0.0, above - beyond)
    inside = [_classified(one[chosen], np.zeros(len(values)), scale[chosen], limit.strict) for one, scale in distances]
    certain = np.all([one == PASS for one in inside], axis=0).astype(float)
    return np.where(exact, certain, np.maximum(0.0, above - beyond))


def _whole(dof):
    return np.where(dof > WELL_KNOWN_DOF, np.inf, np.maximum(1, np.floor(dof + 1e-9)))


def _below(distances, dof):
    """Return the probability of lying below, each of the two functions asked only where it holds."""
    found, known = np.empty(len(distances)), np.isinf(dof)
    found[known] = special.ndtr(distances[known])
    found[~known] = special.stdtr(dof[~known], distances[~known])
    return found
