"""How far an inspection in progress has come, step by step."""

from dataclasses import dataclass

from inspections.at_bench.evaluated_steps import with_results
from inspections.at_bench.evaluation import Evaluator, StepResult
from inspections.at_bench.last_results import LastResults, StepSummary, evaluate_step
from inspections.bench import Context
from inspections.models import InspectionStep
from inspections.result_display import FAILED, FAILED_WORDS, NOT_PROVED, shown_results


@dataclass(frozen=True, slots=True)
class StepProgress:
    """One step, how many readings it has, and what they say now (None for a step that needs no test).

    The result is a summary where the step was not evaluated for this page.
    """

    step: InspectionStep
    readings: int
    step_result: StepResult | StepSummary | None

    @property
    def decision(self):
        """The word for the step: the worst decision so far, “not tested”, or empty while there is none."""
        if self.step.not_tested_reason:
            return "not tested"
        return self.step_result.words if self.step_result and self.step_result.is_complete else ""

    @property
    def is_done(self):
        return not self.step.applies or bool(self.step.not_tested_reason) or self.step_result.is_complete

    @property
    def is_failed(self):
        return bool(self.step_result) and any(decision in FAILED for decision in self.step_result.decisions)

    @property
    def results(self):
        """What the readings say now, in words; none while a reading cannot be."""
        return shown_results(self.step_result.evaluation, f"step{self.step.pk}") if self.step_result else []

    @property
    def failed_results(self):
        return [result for result in self.results if result.is_failed]

    @property
    def open_results(self):
        """What is neither a pass nor a fail: conditional passes, and what is not tested or not decided."""
        return [result for result in self.results if result.decision in NOT_PROVED]

    @property
    def note(self):
        """What to say of a step that has no decision yet."""
        if self.step_result and self.step_result.error:
            return "a reading can't be right"
        if self.is_done:
            return "done"
        if not self.readings:
            return "not started"
        return f"{self.readings} reading{'' if self.readings == 1 else 's'}, not complete"


class Progress:
    """How far an inspection is, from its EvaluatedSteps.

    context  function that returns the Context of the step that a page shows, see `progress_of`
    """

    def __init__(self, inspection, evaluated):
        self.inspection, self.evaluated = inspection, evaluated
        self.context = Context
        self.all = [
            StepProgress(step, len(evaluated.readings.get(step.pk, [])), evaluated.results.get(step, (None, None))[1])
            for step in evaluated.steps
        ]

    @property
    def that_apply(self):
        return [progress for progress in self.all if progress.step.applies]

    @property
    def that_do_not(self):
        return [progress.step for progress in self.all if not progress.step.applies]

    @property
    def done(self):
        return sum(progress.is_done for progress in self.that_apply)

    @property
    def first_open(self):
        """The first step that still needs work, else the first that applies, else None."""
        return next((p.step for p in self.that_apply if not p.is_done), next((p.step for p in self.that_apply), None))

    @property
    def that_decide(self):
        """The steps on which decisions rest: of one repaired meanwhile, the last set of readings."""
        return [progress for progress in self.that_apply if progress.step.is_last]

    @property
    def failed_essential(self):
        return [progress for progress in self._failed if progress.step.is_essential]

    @property
    def essential_untested(self):
        """The essential steps that prove nothing so far: with them a signature is incomplete."""
        untested = self.evaluated.essential_untested()
        return [progress for progress in self.that_apply if progress.step in untested]

    @property
    def failed_other(self):
        return [progress for progress in self._failed if not progress.step.is_essential]

    @property
    def _failed(self):
        """Steps with a failure that stands: of a set before a repair, one that no later set judged again."""
        failed = [progress for progress in self.that_apply if progress.is_failed]
        return [progress for progress in failed if _stands(self.evaluated.that_decide(progress.step), progress)]

    @property
    def not_proved(self):
        """Steps with a result that a signature would open a finding for, though nothing failed.

        Essential steps that prove nothing are `essential_untested`.
        """
        untested = self.essential_untested
        judged = [item for item in self.that_decide if item.step_result and item not in untested]
        return [item for item in judged if any(one in NOT_PROVED for one in item.step_result.decisions)]

    def find(self, step_pk):
        return next((progress for progress in self.that_apply if progress.step.pk == step_pk), None)

    def after(self, step):
        """The step that follows, None after the last."""
        here = (step.position, step.pk)
        return next((p.step for p in self.that_apply if (p.step.position, p.step.pk) > here), None)

    def before(self, step):
        """The step before this one, None before the first."""
        here = (step.position, step.pk)
        return next((p.step for p in reversed(self.that_apply) if (p.step.position, p.step.pk) < here), None)


def _stands(keys, progress):
    return any(decision in FAILED_WORDS and key in keys for key, decision in progress.step_result.decided.items())

    def before(self, step):
        """The step before this one, None before the first."""
        return next((p.step for p in reversed(self.that_apply) if p.step.position < step.position), None)


def progress_of(inspection, *, shown=None):
    """Return the Progress of an inspection: the step `shown` is evaluated, of the others what is stored is read.

    The queries do not grow with steps or readings.
    """
    evaluator = Evaluator(inspection)
    last = LastResults(evaluator)

    def result_of(step, readings):
        if shown is None or step.pk != shown.pk:
            return readings, last.find(step, readings)
        step_result = evaluator.evaluate(step, readings)
        last.keep(step, readings, step_result)
        return readings, step_result

    progress = Progress(inspection, with_results(inspection, result_of))
    progress.context = lambda: evaluator.context_or_plain(shown)
    last.save()
    return progress


def step_progress(step, readings):
    """Return the progress of one step, evaluated from its current readings."""
    if not step.applies or step.not_tested_reason:
        return StepProgress(step, len(readings), None)
    return StepProgress(step, len(readings), evaluate_step(step, readings))
