"""The bench: what a step asks for, a reading entered into it, and what its readings mean now."""

from typing import Annotated

from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Path, Router, Schema, Status

from fleet.api.access import Token
from fleet.api.types import PRINTABLE, Body, Code, Pk
from inspections.actions import enter_reading
from inspections.api.answers import EvaluationOut, ReadingOut, evaluation_answer
from inspections.at_bench.evaluation import Evaluator
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.last_results import evaluate_step
from inspections.at_bench.reading_entry import checked_instrument, make_entry
from inspections.at_bench.slots import MAX_ROWS, find_slot
from inspections.errors import ReadingRefused, RecordFrozen
from inspections.models import InspectionStep, Reading

router = Router(tags=["Bench"])
Short = Annotated[str, Field(max_length=40, pattern=PRINTABLE)]


class ReadingIn(Body):
    field: Code = Field(description="Key of the reading, table or choice, as declared by the test.")
    row: int = Field(0, ge=0, lt=MAX_ROWS, description="Row of a table from 0.")
    column: Code | None = Field(None, description="Column of a table.")
    as_read: Short = Field(
        min_length=1,
        description="As the gauge shows it: “24.5”, “4.1; 4.2; 4.1” for repeats, “yes”, or the value of a choice.",
    )
    unit: Short = Field("", description="Unit of a measured reading; there is no default.")
    zero: Annotated[str, Field(pattern="^(gauge|absolute)?$")] = Field(
        "", description="Of a pressure; as declared unless given."
    )
    instrument: Short = Field("", description="Code of the instrument that showed it.")
    seen: Pk | None = Field(None, description="Id of the reading known to be current here; null: none is known.")


class MeantOut(Schema):
    as_read: str
    unit: str


class QuestionOut(Schema):
    asked: str = Field(description="Why the reading is doubted and what may have been meant, in a sentence or two.")
    alternatives: list[MeantOut] = Field(description="The likeliest first; empty where two readings contradict.")


class ReadingKept(Schema):
    reading: ReadingOut
    evaluation: EvaluationOut
    question: QuestionOut | None = Field(
        description="A doubt that a person answers on the page of the step, or that another reading settles; it blocks "
        "nothing. Null for most readings."
    )


@router.post(
    "/steps/{int:pk}/readings",
    response={201: ReadingKept},
    auth=Token("inspections.enter_reading"),
    summary="Enter a reading",
)
def reading_enter(request, pk: Path[Pk], body: ReadingIn):
    """Saves it with the token and its owner; the current reading of the same place is superseded, not overwritten.

    If the current reading was entered by somebody else, or by the owner in person, and `seen` does not name it, it
    stays current and this one is saved beside it, `is_contested`, until a person chooses on the bench page.

    Refused as on the bench page: 409 when the inspection is not in progress, 422 for a unit that the place does not
    take, text that is not a number, an instrument of another site or out of calibration. Only a person can sign.
    """
    step, token = visible_step(request, pk), request.auth
    reading = enter_reading(step, entry_of(step, body), by=token.owner, at=timezone.now(), token=token)
    readings = list(Reading.objects.current().filter(step=step).select_related("instrument"))
    result = evaluate_step(step, readings)
    question = reading.questions.filter(answer="").first()
    return Status(201, {"reading": reading, "evaluation": evaluation_answer(step, result), "question": question})


@router.get(
    "/steps/{int:pk}/evaluation",
    response=EvaluationOut,
    auth=Token("inspections.view_inspection"),
    summary="Results of a step so far",
)
def step_evaluation(request, pk: Path[Pk]):
    """While the inspection is in progress; afterwards the results are on the inspection and its record (409)."""
    step = visible_step(request, pk)
    if not step.inspection.is_in_progress:
        raise RecordFrozen(f"{step.inspection} is {step.inspection.stage_word}: read its results on the inspection.")
    return evaluation_answer(step, Evaluator(step.inspection).evaluate(step))


def visible_step(request, pk):
    """A step that applies, of an inspection that the token's owner may see."""
    rows = InspectionStep.objects.visible_to(request.auth.owner).that_apply()
    return get_object_or_404(rows.with_machine(), pk=pk)


def entry_of(step, body):
    """The Entry described by a body, checked like a form of the bench page. Raise ReadingRefused."""
    if not step.inspection.is_in_progress:
        raise RecordFrozen(f"{step.inspection} is {step.inspection.stage_word}: its readings are locked.")
    slot = find_slot(step, body.field, body.row, body.column or "")
    if not slot.options and not body.unit:
        raise ReadingRefused(f"{slot.label}: give the unit, {' or '.join(slot.units)}.", slot.key)
    chosen = checked_instrument(slot, _offered(step, body.instrument)) if _names_instrument(slot, body) else None
    return make_entry(slot, body.as_read, unit=body.unit, zero=body.zero, instrument=chosen, seen=body.seen)


def _names_instrument(slot, body):
    return bool(body.instrument and body.as_read.strip()) and not slot.options


def _offered(step, code):
    """The instrument with this code as the bench of the site offers it, None if it does not."""
    site = step.inspection.machine.site
    offered = instruments_at(site, site.date_of(timezone.now()))
    return next((choice for choice in offered if choice.code == code), None)
