"""Plausibility checks: every number entered is compared with the bounds of dimensions.toml.

A number is refused if it is not finite, outside the bounds, or so small that it must be a mistake (below a millionth of
the finest plausible step).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from fleet.catalogue.dimensions import DIMENSIONS, USES, Bounds, Dimension, Unit, find_unit

SMALLEST_STEPS = 1e-6  # a number below this multiple of the finest step is a typing or rounding error
SLACK = 1e-9  # relative: the end of a range, converted to SI and back, is still within the range
LARGEST_PERCENT = 100.0
COVERAGE_FACTORS = (1.0, 10.0)  # apart from 0 for hard limits. Source: common practice, no source; JCGM 100:2008, 6.3.1
SCALE_NUMBERS = (
    "low", "high", "resolution", "of_reading_percent", "of_span_percent", "absolute", "coverage_factor",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Implausible:
    """The problem of a number, as the rest of a sentence (“is not plausible.”), and what is accepted."""

    message: str
    accepted: str

    def of(self, subject: str) -> str:
        """Return the whole sentence, such as “1e+308 kPa is not plausible. Accepted: 0 to 60000 kPa.”"""
        return f"{subject} {self.message} Accepted: {self.accepted}."


NOT_FINITE = Implausible("is not a finite number.", "a finite number")


def reading_problem(value: float, unit: str) -> Implausible | None:
    """Return the problem of a reading. An impossible reading below zero is left to the evaluation, which reports it."""
    found = find_unit(unit)
    problem = value_problem(value, unit)
    if problem is None or found is None:
        return problem
    return Implausible(problem.message, bounded_words(found[1], reading_bounds(found[0])))


def reading_bounds(dimension: Dimension) -> Bounds:
    """Return the bounds that are named for readings of a dimension: from zero, where none can be below it."""
    return dimension.bounds if dimension.may_be_negative else _not_negative(dimension.bounds)


def value_problem(value: float, unit: str) -> Implausible | None:
    """Return the problem of a reading, a limit or an end of a range; None for a plausible one.

    Also None for a unit that is not in the table, which is checked elsewhere.
    """
    found = find_unit(unit)
    return None if found is None else bounded_problem(value, found[1], found[0].bounds)


def use_problem(value: float, use: str) -> Implausible | None:
    """Return the problem of a value of one use, in the unit of its bounds."""
    bounds = USES[use].bounds
    return bounded_problem(value, bounds.unit, bounds)


def use_bounds(use: str) -> tuple[float, float]:
    """Return the plausible ends for one use, in the unit of its bounds."""
    bounds = USES[use].bounds
    return _in_unit(bounds.low, bounds.unit), _in_unit(bounds.high, bounds.unit)


def rated_problem(value: float, dimension: str, unit: str) -> Implausible | None:
    """Return the problem of a value on a rating plate or in a circuit, which is never negative."""
    if isfinite(value) and value < 0:
        return Implausible("is negative.", "0 or more")
    bounds = _not_negative(DIMENSIONS[dimension].bounds)
    own = find_unit(unit)
    return bounded_problem(value, own[1] if own else Unit(unit, 1.0), bounds)


def bounded_problem(value: float, unit: Unit, bounds: Bounds) -> Implausible | None:
    """Return the problem of a value in a unit, None for one within the bounds."""
    accepted = bounded_words(unit, bounds)
    if not isfinite(value):
        return Implausible("is not a finite number.", f"a finite number, {accepted}")
    si = value * unit.factor + unit.zero
    slack = SLACK * (bounds.high - bounds.low)
    if not bounds.low - slack <= si <= bounds.high + slack:
        return Implausible("is not plausible.", accepted)
    smallest = bounds.finest / unit.factor * SMALLEST_STEPS
    if value != 0 and abs(value) < smallest:
        return Implausible("is too small to be read.", f"0, or {accepted}")
    return None


def bounded_words(unit: Unit, bounds: Bounds) -> str:
    """Return what is accepted, such as “-110 to 60000 kPa”."""
    return f"{_in_unit(bounds.low, unit):g} to {_in_unit(bounds.high, unit):g} {unit.symbol}"


def scale_problems(scale: Mapping[str, Any]) -> dict[str, Implausible]:
    """Return the problems of the numbers of a scale, by field; absent fields are not checked.

    scale  unit, or a dimension for numbers in SI; low, high, resolution, of_reading_percent, of_span_percent, absolute,
           coverage_factor
    """
    numbers = {name: scale[name] for name in SCALE_NUMBERS if isinstance(scale.get(name), (int, float))}
    problems = {name: NOT_FINITE for name, value in numbers.items() if not isfinite(value)}
    numbers = {name: value for name, value in numbers.items() if name not in problems}
    found = _unit_of(scale)
    return problems | _range_problems(numbers, found) | _step_problems(numbers, found) | _accuracy_problems(numbers)


def _range_problems(numbers, found):
    ends = [name for name in ("low", "high") if name in numbers]
    problems = {name: bounded_problem(numbers[name], found[1], found[0].bounds) for name in ends if found}
    if not any(problems.values()) and {"low", "high"} <= numbers.keys() and numbers["high"] <= numbers["low"]:
        begins = f"is not above {numbers['low']:g}, the start of the scale."
        problems["high"] = Implausible(begins, "a higher number")
    return {name: problem for name, problem in problems.items() if problem}


def _step_problems(numbers, found):
    step, span = numbers.get("resolution"), _span(numbers)
    if step is None:
        return {}
    if step <= 0:
        return {"resolution": Implausible("is not more than 0.", "the smallest step, more than 0")}
    finest = found[0].bounds.finest / found[1].factor if found else 0.0
    if step < finest * (1 - SLACK) or (span is not None and step > span * (1 + SLACK)):
        widest = "the span of the scale" if span is None else f"{span:g}, the span of the scale"
        return {"resolution": Implausible("is not plausible as the smallest step.", f"{finest:g} to {widest}")}
    return {}


def _accuracy_problems(numbers):
    span = _span(numbers)
    most = {"of_reading_percent": LARGEST_PERCENT, "of_span_percent": LARGEST_PERCENT, "absolute": span}
    problems = {
        name: Implausible("is not plausible.", f"0 to {largest:g}")
        for name, largest in most.items()
        if largest is not None and numbers.get(name, 0) > largest * (1 + SLACK)
    }
    factor, (least, largest) = numbers.get("coverage_factor", 0), COVERAGE_FACTORS
    if factor > largest or 0 < factor < least:
        accepted = f"0 for hard limits, or {least:g} to {largest:g}"
        problems["coverage_factor"] = Implausible("is not plausible.", accepted)
    return problems | {
        name: Implausible("is negative.", "0 or more")
        for name in (*most, "coverage_factor")
        if numbers.get(name, 0) < 0
    }


def _span(numbers):
    if not {"low", "high"} <= numbers.keys() or numbers["high"] <= numbers["low"]:
        return None
    return numbers["high"] - numbers["low"]


def _not_negative(bounds: Bounds) -> Bounds:
    return replace(bounds, low=max(bounds.low, 0.0))


def _unit_of(scale: Mapping[str, Any]) -> tuple[Dimension, Unit] | None:
    if not scale.get("unit") and scale.get("dimension") in DIMENSIONS:
        dimension = DIMENSIONS[scale["dimension"]]
        return dimension, Unit(dimension.si, 1.0)
    return find_unit(scale.get("unit") or "")


def _in_unit(si: float, unit: Unit) -> float:
    return float(f"{(si - unit.zero) / unit.factor:.9g}")
