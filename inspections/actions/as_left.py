"""Test a step again as left, after a repair or an adjustment: a further set of readings beside the one as found."""

from django.db import transaction

from fleet.changes import record_change
from inspections.actions.holding import hold_in_progress
from inspections.at_bench.evaluated_steps import evaluate_steps
from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.repairs import after_work, repairs_in, to_be_tested_again
from inspections.errors import Refused
from inspections.models import Inspection, InspectionStep

CODE_LENGTH = 48
SAME = ("inspection_id", "position", "title", "test_code", "subject", "component_id", "is_essential", "content")


@transaction.atomic
def begin_as_left(step, *, work_done, by, at, is_own_work=True):
    """Begin a further set of readings of a step, empty; the one there is becomes “as found”. Return the new one.

    work_done    what was repaired or adjusted, in a sentence
    is_own_work  whether that was on what the step tests, not on something else that calls for the step

    Raise Refused without the sentence, and for a step whose readings are not complete: they would be lost as found.
    RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(step)
    step.refresh_from_db()
    if not work_done.strip():
        raise Refused(f"{step}: state in a sentence what was repaired or adjusted. It goes on the record.")
    _refuse_not_complete(step)
    return _begin(step, work_done=work_done.strip()[:300], by=by, at=at, is_own_work=is_own_work)


@transaction.atomic
def begin_all_called_for(inspection, *, by, at):
    """Begin a set as left for every step that a repair calls for again. Return the new sets; none if nothing does."""
    step = InspectionStep(inspection_id=inspection.pk)
    hold_in_progress(step)
    evaluated = evaluate_steps(inspection)
    again = to_be_tested_again(evaluated, repairs_in(inspection, evaluated.steps))
    complete = {one: words for one, words in again.items() if evaluated.results[one][1].is_complete}
    if again and not complete:
        raise Refused("Complete the readings as they were before the repair first: they are the readings as found.")
    return [
        _begin(one, work_done=after_work(words), by=by, at=at, is_own_work=False) for one, words in complete.items()
    ]


@transaction.atomic
def undo_as_left(step, *, by, at):
    """Take back a set as left that holds nothing yet; the set before it is the last one again, and is returned.

    Raise Refused if anything was entered in it, RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(step)
    step = InspectionStep.objects.get(pk=step.pk)
    if step.as_left_of_id is None or not step.is_last:
        raise Refused(f"{step} is not the last set of readings of its step, so it cannot be taken back.")
    if step.holds_anything:
        raise Refused(
            f"{step}: something was entered here already, so it stays on the record. Complete it, or mark it as not "
            "tested with the reason."
        )
    before = _last_before(step)
    record_change(
        Inspection(pk=step.inspection_id), by=by, at=at, about=str(step)[:200],
        before={"Begun after": step.work_done}, after={"Begun after": "taken back"},
    )  # fmt: skip
    step.delete()
    InspectionStep.objects.filter(pk=before.pk).update(is_last=True)
    before.refresh_from_db()
    return before


def _last_before(step):
    if step.set_number == 2:
        return InspectionStep.objects.get(pk=step.as_left_of_id)
    return InspectionStep.objects.get(as_left_of=step.as_left_of_id, set_number=step.set_number - 1)


def _refuse_not_complete(step):
    if not step.is_last:
        raise Refused(f"{step} has a later set of readings already. Continue with that one.")
    if not step.applies or step.not_tested_reason:
        raise Refused(f"{step} was not tested, so there is nothing as found. Undo “not tested”, and test it.")
    if not Evaluator(step.inspection).evaluate(step).is_complete:
        raise Refused(
            f"{step}: complete these readings first. They are the readings as found, and cannot be taken again."
        )


def _begin(step, *, work_done, by, at, is_own_work):
    number = step.set_number + 1
    InspectionStep.objects.filter(pk=step.pk).update(is_last=False)
    begun = InspectionStep.objects.create(
        **{name: getattr(step, name) for name in SAME}, code=_free_code(step, number), as_left_of_id=step.first_set_id,
        set_number=number, work_done=work_done, is_own_work=is_own_work, begun_by=by, begun_at=at,
    )  # fmt: skip
    record_change(
        Inspection(pk=step.inspection_id), by=by, at=at, about=str(begun)[:200],
        before={"Begun after": None}, after={"Begun after": work_done},
    )  # fmt: skip
    return begun


def _free_code(step, number):
    """The code of the first set with its number: steps of one inspection differ by code and subject."""
    taken = set(InspectionStep.objects.filter(inspection=step.inspection_id).values_list("code", flat=True))
    first = step.as_left_of.code if step.as_left_of else step.code
    stem = f"{first[:CODE_LENGTH]}-as-left"
    codes = (stem if number == 2 else f"{stem}-{number}", *(f"{stem}-{n}" for n in range(100, 1000)))
    return next(code for code in codes if code not in taken)
