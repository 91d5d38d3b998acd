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

    def essential_untested(self):
        """The essential steps that prove nothing. Once signed: `InspectionStepQuerySet.essential_untested`."""
        settled = {step.pk for step, (_, result) in self.results.items() if result.is_settled}
        return [step for step in self.steps if step.applies and step.is_essential and step.pk not in settled]


def evaluate_steps(inspection):
    """Read and evaluate every step. The queries do not grow with steps or readings."""
    evaluator = Evaluator(inspection)
    return with_results(inspection, lambda step, readings: (readings, evaluator.evaluate(step, readings)))


def with_results(inspection, result_of):
    """Read every step; `result_of(step, readings)` gives what `results` holds for each that is tested."""
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
            results[step] = result_of(step, readings.get(step.pk, []))
    return EvaluatedSteps(steps, readings, results)
