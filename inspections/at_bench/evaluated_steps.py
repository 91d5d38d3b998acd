"""Every step of an inspection with its current readings and its result, read and evaluated once."""

from dataclasses import dataclass

from inspections.at_bench.evaluation import Evaluator
from inspections.bench.decision_words import FAILED, JUDGED_WORST_FIRST, is_settled_again
from inspections.models import InspectionStep, Reading


@dataclass(frozen=True, slots=True)
class EvaluatedSteps:
    """`readings` maps keys of steps to current readings; `results` maps each tested step to its readings and result."""

    steps: list[InspectionStep]
    readings: dict[int, list[Reading]]
    results: dict

    def essential_untested(self):
        """The essential steps that prove nothing. Once signed: `InspectionStepQuerySet.essential_untested`."""
        asked = [step for step in self.steps if step.applies and step.is_essential and step.is_last]
        return [step for step in asked if not self.is_settled(step)]

    def is_settled(self, step):
        """Whether a set of readings proves something; one as left must judge what the sets before it judged."""
        _, result = self.results.get(step, (None, None))
        if result is None or not result.is_settled:
            return False
        earlier = [key for one in self.sets_before(step) for key in self._decided(one)]
        return is_settled_again(result.decided, earlier)

    def sets_before(self, step):
        """The earlier sets of readings of the same step, the first one first."""
        if step.set_number == 1:
            return []
        same = [one for one in self.steps if one.first_set_id == step.first_set_id]
        return [one for one in same if one.set_number < step.set_number]

    def that_decide(self, step):
        """The keys of the results of a step on which decisions rest, as `sets_of_readings.that_decides` has them."""
        decided = self._decided(step)
        if step.is_last:
            return set(decided)
        later = [one for one in self.steps if one.as_left_of_id == step.first_set_id]
        again = {
            key
            for one in later
            if one.set_number > step.set_number
            for key, decision in self._decided(one).items()
            if decision in JUDGED_WORST_FIRST
        }
        return {key for key, decision in decided.items() if decision in FAILED and key not in again}

    def _decided(self, step):
        return self.results[step][1].decided if step in self.results else {}


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
