"""Evaluation that ends in finite results or in a BenchError, whatever is given; pages and commands use it alike."""

from collections.abc import Iterable
from math import isfinite

from fleet.catalogue.plausibility import Implausible, use_problem, value_problem
from fleet.late import np

from .declarations import Context, Test
from .errors import BenchError
from .limits import Limit
from .quantities import dimension_of, from_si
from .readings import Sheet
from .results import Curve, Evaluation, Result

ZERO_CELSIUS_K = 273.15


class NotEvaluated(BenchError):
    """Readings whose arithmetic fails: each may be plausible by itself, but not all of them together."""

    def __init__(self, cause: str):
        super().__init__(
            "", f"These readings cannot be evaluated together ({cause}). Check each value with its unit and "
            "its instrument.",
        )  # fmt: skip


def evaluate(test: Test, sheet: Sheet, context: Context) -> Evaluation:
    """Return what a test makes of a sheet: every number finite, but for degrees of freedom.

    Raises BenchError for a reading, an instrument, a limit or a condition that is not plausible, and for readings whose
    arithmetic fails.
    """
    check_context(test, context)
    try:
        with np.errstate(all="ignore"):
            evaluation = test.evaluate(sheet, context)
    except BenchError:
        raise
    except (ArithmeticError, ValueError, RecursionError) as error:
        raise NotEvaluated(f"{type(error).__name__}: {error}"[:120]) from error
    for result in evaluation.results:
        if not all(map(isfinite, _numbers_of(result))):
            raise NotEvaluated(f"{result.label.lower()} would not be a finite number")
    if not all(isfinite(number) for curve in evaluation.curves for number in _numbers_of_curve(curve)):
        raise NotEvaluated("the curve would not be finite")
    return evaluation


def check_context(test: Test, context: Context) -> None:
    """Raise BenchError for surroundings or a limit that are not plausible."""
    refuse_use(context.ambient_pa_abs / 1000, "ambient-pressure", "context.ambient_kpa_abs", "Ambient pressure", "kPa")
    celsius = context.temperature_k - ZERO_CELSIUS_K
    refuse_use(celsius, "ambient-temperature", "context.temperature_c", "Room temperature", "°C")
    for key, limit in context.limits.items():
        refuse_limit(test, key, limit)


def refuse_use(value: float, use: str, key: str, name: str, unit: str) -> None:
    """Raise BenchError for a condition of the bench that is not plausible."""
    if problem := use_problem(value, use):
        raise BenchError(key, f"{name}: {problem.of(f'{value:g} {unit}')}")


def refuse_limit(test: Test, key: str, limit: Limit) -> None:
    """Raise BenchError for a limit of a result that the test lacks, in a unit that does not fit, or not plausible."""
    spec = next((spec for spec in test.results if spec.key == key), None)
    if spec is None:
        known = ", ".join(spec.key for spec in test.results)
        raise BenchError(f"limits.{key}", f'{test.title} has no result "{key}". It has: {known}.')
    try:
        dimension = dimension_of(limit.unit)
    except ValueError as error:
        raise BenchError(f"limits.{key}", f"Limit of {spec.label.lower()}: {error}") from None
    if dimension != spec.dimension:
        raise BenchError(f"limits.{key}", f"{spec.label} is not measured in {limit.unit}.")
    if sentence := limit_problem(limit):
        raise BenchError(f"limits.{key}", f"Limit of {spec.label.lower()}: {sentence}")


def limit_problem(limit: Limit) -> str:
    """Return in a sentence which end of a limit is not plausible; empty when both are."""
    for end in (limit.lower_si, limit.upper_si):
        if end is not None:
            shown = from_si(end, limit.unit) if isfinite(end) else end
            problem: Implausible | None = value_problem(shown, limit.unit)
            if problem:
                return problem.of(f"{shown:g} {limit.unit}")
    return ""


def _numbers_of(result: Result) -> Iterable[float]:
    numbers = (
        result.value_si, result.std_uncertainty_si, result.coverage_factor, result.expanded_uncertainty_si,
        result.margin_si, result.probability, result.sufficient_uncertainty_si,
    )  # fmt: skip
    return (number for number in numbers if number is not None)


def _numbers_of_curve(curve: Curve) -> Iterable[float]:
    points = (number for series in curve.series for point in series.points for number in point)
    return (*points, *(mark.value for mark in curve.marks), *(mark.spread or 0.0 for mark in curve.marks))
