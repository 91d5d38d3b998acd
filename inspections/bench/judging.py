"""From an estimate, a limit and a challenge to a decision that may be relied on.

The rule of decisions.py sees a value and its uncertainty. Here is added what a value cannot say of itself:
whether the machine was challenged, and whether the measurement is fine enough to decide at all.

    a clear fail                                   fail, unless the unmet challenge makes it meaningless
    challenge not met                              not tested, with the reason
    conditional, and U above half the tolerance    not decided: measure closer
    conditional pass below the rule's floor        not decided: measure closer
    else                                           as decisions.py says

The tolerance is the width between two limits; for one limit its distance from zero, and none for a limit of zero.
"""

from dataclasses import dataclass, replace

from .challenges import NoChallenge, Reason, Unmet
from .decisions import Decision, Verdict, decide
from .declarations import ResultSpec
from .limits import Limit
from .quantities import interval_from_si
from .results import Result
from .uncertainty import Estimate, coverage_factor, excess_of

NO_LIMIT = "No limit is set for it."
_CONDITIONAL = (Decision.CONDITIONAL_PASS, Decision.CONDITIONAL_FAIL)
_ROUNDING = 1 + 1e-9


@dataclass(frozen=True, slots=True)
class Settled:
    """A decision, and where it is none, why and how little uncertainty would suffice (in SI)."""

    decision: Decision
    reason: str = ""
    why: str = ""
    sufficient_uncertainty_si: float | None = None


def settle(verdict: Verdict, limit: Limit, unmet: Unmet | None) -> Settled:
    """Return the decision that a verdict supports, given in what way the challenge was not met."""
    if verdict.decision is Decision.FAIL and (unmet is None or unmet.fail_stands):
        return Settled(Decision.FAIL)
    if unmet is not None:
        is_tested = unmet.reason in (Reason.CONTRADICTED, Reason.TOO_COARSE)
        return Settled(Decision.NOT_DECIDED if is_tested else Decision.NOT_TESTED, unmet.reason, unmet.why)
    if verdict.decision in _CONDITIONAL and (cause := _too_coarse(verdict, limit)):
        enough = abs(verdict.margin)
        why = f"{cause} {_what_would_do(verdict, limit)}"
        return Settled(Decision.NOT_DECIDED, Reason.TOO_COARSE, why, enough)
    return Settled(verdict.decision)


def _too_coarse(verdict: Verdict, limit: Limit) -> str:
    """Return why a conditional verdict decides nothing, empty if it does."""
    expanded, tolerance = verdict.expanded_uncertainty, limit.tolerance_si
    if tolerance is not None and expanded > tolerance / 2 * _ROUNDING:
        return f"U is {_shown(expanded, limit)}, above half the tolerance of {_shown(tolerance, limit)}."
    if verdict.decision is Decision.CONDITIONAL_PASS and verdict.probability < limit.floor / _ROUNDING:
        return f"The probability of conformity is {verdict.probability:.0%}; this rule asks for {limit.floor:.3g}."
    return ""


def _what_would_do(verdict: Verdict, limit: Limit) -> str:
    margin, expanded, tolerance = abs(verdict.margin), verdict.expanded_uncertainty, limit.tolerance_si
    ways = []
    if margin > 0:
        ways.append(f"with this value, a U of {_shown(margin, limit)} or less")
    is_wide = limit.lower_si is None or limit.upper_si is None or (tolerance or 0) >= 2 * expanded
    if is_wide:
        ways.append(f"with this U, a value {_shown(expanded, limit)} or more inside the limit")
    if not ways:
        return "The value lies on the limit; measure with less uncertainty."
    return f"Measure closer. What would decide: {'; or '.join(ways)}."


def _shown(interval_si: float, limit: Limit) -> str:
    return f"{two_figures(interval_from_si(interval_si, limit.unit))} {limit.unit}"


def two_figures(number: float) -> str:
    """Return a number with two significant figures, without an exponent: 0.042, 3.1, 120."""
    plain = float(f"{number:.2g}")
    return f"{plain:.0f}" if abs(plain) >= 10 else f"{plain:.10f}".rstrip("0").rstrip(".")


def judged_result(
    spec: ResultSpec,
    estimate: Estimate,
    limit: Limit | None,
    *,
    unmet: Unmet | None = None,
    remark: str = "",
    convention: str = "",
    unjudged: str = "",
    unit: str = "",
) -> Result:
    """Return the result for an estimate in SI.

    unit      to show it in; empty: that of the limit, else the declared one
    unmet     in what way its challenge was not met
    unjudged  why it is only reported, where no limit applies
    """
    factor = coverage_factor(estimate.dof, excess=excess_of(estimate))
    unit = unit or (limit.unit if limit else spec.unit)
    plain = Result(
        spec.key, spec.label, estimate.value, estimate.std_uncertainty, estimate.dof, factor,
        factor * estimate.std_uncertainty, unit, limit, None, None, None,
        convention or spec.convention, remark,
    )  # fmt: skip
    if limit is None:
        return replace(plain, reason=Reason.REPORTED.value, why=unjudged or spec.unjudged or NO_LIMIT)
    verdict = decide(estimate.value, estimate.std_uncertainty, limit, dof=estimate.dof, excess=excess_of(estimate))
    settled = settle(verdict, replace(limit, unit=unit), unmet)
    return replace(
        plain, decision=settled.decision, margin_si=verdict.margin, probability=verdict.probability,
        reason=str(settled.reason), why=settled.why, sufficient_uncertainty_si=settled.sufficient_uncertainty_si,
    )  # fmt: skip


def failed_result(result: Result, remark: str) -> Result:
    """Return a result that failed whatever its figure says: the device never did what the figure is of."""
    return replace(
        result, decision=Decision.FAIL, remark=remark, reason="", why="", sufficient_uncertainty_si=None,
        margin_si=None, probability=None,
    )  # fmt: skip


def not_measured(spec: ResultSpec, limit: Limit | None) -> Result:
    """Return the result of a result that the readings given do not contain."""
    return Result(
        spec.key, spec.label, None, 0.0, float("inf"), 2.0, 0.0, limit.unit if limit else spec.unit, limit,
        Decision.NOT_TESTED, None, None, spec.convention, "", Reason.NOT_MEASURED.value,
        "" if isinstance(spec.challenge, NoChallenge) else f"Needed for it: {spec.challenge.statement}.",
    )  # fmt: skip
