"""Evaluation by several limits of one result: the worst decision counts."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from .decisions import Decision
from .declarations import Context, ResultSpec, Test
from .guard import evaluate
from .judging import judged_result
from .limits import Limit
from .readings import Sheet
from .results import Evaluation, Result
from .uncertainty import Estimate

_GRAVE_FIRST = (Decision.FAIL, Decision.CONDITIONAL_FAIL)
_MILD_LAST = (Decision.CONDITIONAL_PASS, Decision.PASS)


def evaluate_by_all(test: Test, sheet: Sheet, context: Context, judges: Mapping[str, Sequence[Limit]]) -> Evaluation:
    """Return what a test makes of a sheet where each result is judged by every limit listed for it.

    judges  by result key; results without an entry are judged as the context says
    A result keeps the limit by which it is worst, so the record names one rule. Raises BenchError as `evaluate` does.
    """
    rounds = max((len(limits) for limits in judges.values()), default=1)
    evaluations = [evaluate(test, sheet, _with_limits(context, judges, number)) for number in range(max(rounds, 1))]
    first = evaluations[0]
    missing = tuple(dict.fromkeys(words for one in evaluations for words in one.missing))
    results = {}
    for evaluation in evaluations:
        for result in evaluation.results:
            known = results.get(result.key)
            results[result.key] = result if known is None or gravity(result) < gravity(known) else known
    return replace(first, results=tuple(results.values()), missing=missing)


def _with_limits(context: Context, judges: Mapping[str, Sequence[Limit]], number: int) -> Context:
    chosen = {key: limits[min(number, len(limits) - 1)] for key, limits in judges.items() if limits}
    return replace(context, limits={**context.limits, **chosen})


def gravest(spec: ResultSpec, candidates: Sequence[tuple[Estimate, Limit]]) -> int:
    """Return which of several settings is judged the gravest; of equally sure ones that nearest its limit.

    candidates  value and limit at each setting, n >= 1; whether the challenge was met does not count here
    """

    def order(number: int) -> tuple[float, float, float]:
        estimate, limit = candidates[number]
        rank, probability, margin = gravity(judged_result(spec, estimate, limit))
        return rank, round(probability, 6), margin / (limit.tolerance_si or 1.0)

    return min(range(len(candidates)), key=order)


def gravity(result: Result) -> tuple[int, float, float]:
    """Return what sorts the gravest result first: its decision, then its probability of conformity and its margin."""
    decision = result.decision
    if decision in _GRAVE_FIRST:
        rank = _GRAVE_FIRST.index(decision)
    elif decision in _MILD_LAST:
        rank = 3 + _MILD_LAST.index(decision)
    else:
        rank = 2 if decision is not None else 5
    probability = 1.0 if result.probability is None else result.probability
    return rank, probability, 0.0 if result.margin_si is None else result.margin_si
