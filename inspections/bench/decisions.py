"""Decisions with a guard band, and the probability of conformity.

Rule: ILAC-G8:09/2019, non-binary statement with a guard band w = guard_factor x U (95 %).
For a value y and an upper tolerance limit TL (a lower limit mirrors it):

    y <= TL - w            pass
    TL - w < y <= TL       conditional pass
    TL < y <= TL + w       conditional fail
    TL + w < y             fail

A value exactly on the tolerance limit is within tolerance, one exactly on an edge of the guard band
belongs to the milder side; for a strict limit ("more than 90 %") the limit itself is outside. Exactly
means to 1e-9 of the larger number, so that a conversion of units cannot move a decision. With two
limits the worse of the two decides. Whether a result may be judged at all is settled in judging.py.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import inf, isfinite, isinf

from fleet.late import special

from .limits import Limit
from .uncertainty import NORMAL, coverage_factor, whole_dof

RELATIVE_ROUNDING = 1e-9


class Decision(StrEnum):
    PASS = "pass"
    CONDITIONAL_PASS = "conditional pass"
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    NOT_DECIDED = "not decided"
    NOT_TESTED = "not tested"

    @property
    def is_proof(self) -> bool:
        """Whether something was judged: neither left untested nor left undecided."""
        return self not in (Decision.NOT_DECIDED, Decision.NOT_TESTED)


_SEVERITY = (Decision.PASS, Decision.CONDITIONAL_PASS, Decision.CONDITIONAL_FAIL, Decision.FAIL)


@dataclass(frozen=True, slots=True)
class Verdict:
    """A decision and the numbers behind it, in the SI unit of the value.

    margin                              distance to the nearest limit, positive inside
    probability                         of conformity
    acceptance_lower, acceptance_upper  tolerance limits drawn in by the guard band, None if no such limit
    """

    decision: Decision
    margin: float
    probability: float
    expanded_uncertainty: float
    coverage_factor: float
    acceptance_lower: float | None
    acceptance_upper: float | None


def decide(
    value: float,
    std_uncertainty: float,
    limit: Limit,
    *,
    dof: float = inf,
    guard_factor: float = 1.0,
    excess: float = NORMAL,
) -> Verdict:
    """Judge a value against a limit, all in one SI unit.

    std_uncertainty  >= 0
    dof              effective degrees of freedom of the uncertainty, > 0
    guard_factor     guard band as a multiple of U; 0 is simple acceptance
    excess           excess kurtosis, for k (see coverage_factor)
    Raises ValueError for a value that is not finite or a negative uncertainty.
    Source: ILAC-G8:09/2019; JCGM 106:2012, clauses 7 and 8.
    """
    if not isfinite(value) or not isfinite(std_uncertainty) or std_uncertainty < 0:
        raise ValueError(f"decide needs a finite value and uncertainty >= 0, got {value!r} and {std_uncertainty!r}")
    factor = coverage_factor(dof, excess=excess)
    expanded = factor * std_uncertainty
    guard = guard_factor * expanded
    insides = _distances_inside(value, limit)
    worst = max((_classify(inside, guard, scale, limit.strict) for inside, scale in insides), key=_SEVERITY.index)
    return Verdict(
        worst,
        min(inside for inside, _ in insides),
        probability_of_conformity(value, std_uncertainty, limit, dof=dof),
        expanded,
        factor,
        None if limit.lower_si is None else limit.lower_si + guard,
        None if limit.upper_si is None else limit.upper_si - guard,
    )


def _distances_inside(value: float, limit: Limit) -> list[tuple[float, float]]:
    """Return for each limit the distance inside and the size of the numbers it came from."""
    found = []
    if limit.lower_si is not None:
        found.append((value - limit.lower_si, max(abs(value), abs(limit.lower_si))))
    if limit.upper_si is not None:
        found.append((limit.upper_si - value, max(abs(value), abs(limit.upper_si))))
    return found


def _classify(inside: float, guard: float, scale: float, strict: bool) -> Decision:
    slack = RELATIVE_ROUNDING * max(scale, guard)
    within = inside > slack if strict else inside >= -slack
    if within:
        return Decision.PASS if inside - guard >= -slack else Decision.CONDITIONAL_PASS
    beyond = inside + guard < -slack or (strict and guard == 0)
    return Decision.FAIL if beyond else Decision.CONDITIONAL_FAIL


def probability_of_conformity(value: float, std_uncertainty: float, limit: Limit, *, dof: float = inf) -> float:
    """Return the probability that the true value lies within the limits, by Student's t with the dof of k.

    With no uncertainty it is 1 within the limits and 0 outside. Source: JCGM 106:2012, 7.3 and 7.4; JCGM 100:2008, G.3.
    """
    if std_uncertainty == 0:
        distances = _distances_inside(value, limit)
        within = all(_classify(inside, 0.0, scale, limit.strict) == Decision.PASS for inside, scale in distances)
        return 1.0 if within else 0.0
    above = 1.0 if limit.lower_si is None else _below((value - limit.lower_si) / std_uncertainty, dof)
    beyond = 0.0 if limit.upper_si is None else _below((value - limit.upper_si) / std_uncertainty, dof)
    return float(max(0.0, above - beyond))


def _below(distance: float, dof: float) -> float:
    """Return the probability of an error below this many standard uncertainties."""
    whole = whole_dof(dof)
    return float(special.ndtr(distance) if isinf(whole) else special.stdtr(whole, distance))
