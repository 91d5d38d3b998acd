"""Would signed records be judged differently today? Compares the signed results with those computed now.

Nothing is changed: a signed record stays as signed. A difference may come from the program, or from what was entered
since: a limit, a rated value of a part, the accuracy of an instrument. Readings are corrected as they were then.
"""

from collections import defaultdict
from dataclasses import dataclass
from math import isclose

from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.instrument_corrections import frozen_corrections
from inspections.at_bench.step_content import lacked_by_step
from inspections.bench import UnknownTest
from inspections.bench.many_evaluations import Question
from inspections.bench.serialise import evaluation_to_dict
from inspections.errors import ReadingRefused
from inspections.models import InspectionStep, Reading

SAME = 1e-9  # relative; below this two computed figures are the same
FIGURES = {
    "value_si": "value",
    "expanded_uncertainty_si": "expanded uncertainty",
}


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that would be otherwise: `signed` and `now` as words, figures in SI units."""

    step: str
    result: str
    what: str
    signed: str
    now: str

    @property
    def is_decision(self):
        return self.what == "decision"


def decided_otherwise(inspection):
    """Return what today's rules would decide otherwise in a signed inspection; other figures alone do not count."""
    return [one for one in differences(inspection) if one.what in ("decision", "result", "reading", "test")]


def differences(inspection):
    """Return what would differ in a signed inspection, whose machine, area, site and record are loaded."""
    return [one for step in signed_steps([inspection])[0] for one in step.differences()]


@dataclass(frozen=True, slots=True)
class SignedStep:
    """A step of a signed record, with what it is evaluated from."""

    step: InspectionStep
    signed: dict  # the evaluation that was signed
    evaluator: Evaluator
    readings: list

    def question(self):
        """Return its evaluation as a Question, None where it has none: `differences` says why."""
        try:
            test, sheet, context, judges = self.evaluator.inputs(self.step, self.readings)
        except (UnknownTest, ArithmeticError, ValueError, ReadingRefused):
            return None
        return Question(test.code, lacked_by_step(self.step), sheet, context, judges)

    def differences(self, answer=None):
        """Return what differs from the signed evaluation: by `answer`, or as evaluated here.

        answer  function that returns the Evaluation of its question, or raises as evaluating it would
        """
        try:
            result = self._result(answer)
        except UnknownTest:
            return [Difference(str(self.step), "", "test", "known", "no longer known")]
        if result.error:
            return [Difference(str(self.step), "", "reading", "accepted", result.error)]
        now = evaluation_to_dict(result.evaluation)
        before, after = ({each["key"]: each for each in evaluation["outcomes"]} for evaluation in (self.signed, now))
        return [
            difference
            for key in dict.fromkeys([*before, *after])
            for difference in _of_result(str(self.step), before.get(key), after.get(key))
        ]

    def _result(self, answer):
        if answer is None:
            return self.evaluator.evaluate(self.step, self.readings)
        return self.evaluator.judged(self.step, answer)


def signed_steps(inspections):
    """Return the SignedSteps of each of some signed inspections; steps and readings are read for all at once."""
    steps = InspectionStep.objects.that_apply().filter(inspection__in=inspections).select_related("component")
    by_inspection, by_step = defaultdict(list), defaultdict(list)
    for step in steps:
        by_inspection[step.inspection_id].append(step)
    for reading in Reading.objects.current().filter(step__inspection__in=inspections).select_related("instrument"):
        by_step[reading.step_id].append(reading)
    return [_steps_of(one, by_inspection[one.pk], by_step) for one in inspections]


def _steps_of(inspection, steps, readings):
    content = inspection.record.read()
    signed = {(step["code"], step["subject"]): step for step in content["steps"]}
    evaluator = Evaluator(inspection, corrections=frozen_corrections(content, inspection.machine.site))
    found = []
    for step in steps:
        step.inspection = inspection
        frozen = signed.get((step.code, step.subject), {})
        if "evaluation" in frozen:
            found.append(SignedStep(step, frozen["evaluation"], evaluator, readings.get(step.pk, [])))
    return found


def _of_result(step, signed, now):
    label = (signed or now)["label"]
    if signed is None or now is None:
        return [Difference(step, label, "result", _given(signed), _given(now))]
    pairs = [("decision", signed["decision"] or "none", now["decision"] or "none")]
    pairs += [("reason", signed.get("reason") or "none", now.get("reason") or "none")] if signed.get("reason") else []
    pairs += [(words, signed[name], now[name]) for name, words in FIGURES.items()]
    pairs += [(f"{end} limit", _limit(signed, end), _limit(now, end)) for end in ("lower", "upper")]
    return [Difference(step, label, what, _text(a), _text(b)) for what, a, b in pairs if not _is_same(a, b)]


def _given(result):
    """What there is of a result that is on one side only: its decision, or that it was computed."""
    return "none" if result is None else result["decision"] or "computed"


def _limit(result, end):
    return (result["limit"] or {}).get(f"{end}_si")


def _is_same(a, b):
    if isinstance(a, float | int) and isinstance(b, float | int):
        return isclose(a, b, rel_tol=SAME, abs_tol=1e-15)
    return a == b


def _text(value):
    return "none" if value is None else f"{value:.9g}" if isinstance(value, float | int) else str(value)
