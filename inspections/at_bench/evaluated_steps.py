"""Every step of an inspection with its current readings and its result, read and evaluated once."""

from dataclasses import dataclass

from inspections.at_bench.evaluation import Evaluator
from inspections.models import InspectionStep, Reading


@dataclass(frozen=True, slots=True)
class EvaluatedSteps:
    """`readings` maps keys of steps to current readings; `results` maps each tested step to its readings and result."""

    steps: list[InspectionStep]
    readings: dict[int, list[Reading]]
    results: dict


def evaluate_steps(inspection, evaluator=None):
    """Read and evaluate every step. The queries do not grow with steps or readings."""
    evaluator = evaluator or Evaluator(inspection)
    steps = list(inspection.steps.select_related("component"))
    readings = {}
    standing = (
        Reading.objects.current()
        .filter(step__inspection=inspection)
        .select_related("instrument", "entered_by", "token")
    )
    for reading in standing:
        readings.setdefault(reading.step_id, []).append(reading)
    results = {}
    for step in steps:
        if step.applies and not step.not_tested_reason:
            own = readings.get(step.pk, [])
            results[step] = (own, evaluator.evaluate(step, own))
    return EvaluatedSteps(steps, readings, results)
