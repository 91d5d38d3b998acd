"""Questions about readings that wait for an answer, with the words for their places."""

from dataclasses import dataclass

from fleet.models.querysets.prepared_queries import prepared
from inspections.at_bench.slots import Slot, find_slot
from inspections.models import ReadingQuestion


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """One question as the page shows it beside its reading."""

    question: ReadingQuestion
    slot: Slot

    @property
    def place(self):
        return f"{self.slot.label}, row {self.slot.row + 1}" if self.slot.column else self.slot.label

    @property
    def place_id(self):
        return self.slot.names.id


def open_questions_at(step):
    """Return the unanswered questions of a step, in the order in which they were asked."""
    return _with_slots(step, _open_questions(step.pk))


def open_questions_of(inspection):
    """Return the steps of an inspection with unanswered questions, each with its own: what a signature leaves open."""
    rows = ReadingQuestion.objects.of_inspection(inspection).open().with_readings()
    tested = rows.filter(reading__step__applies=True, reading__step__not_tested_reason="")
    by_step = {}
    for question in tested.select_related("reading__step").order_by("reading__step__position", "pk"):
        by_step.setdefault(question.reading.step, []).append(question)
    return [(step, _with_slots(step, questions)) for step, questions in by_step.items()]


@prepared
def _open_questions(step):
    return ReadingQuestion.objects.of_step(step).open().select_related("reading").order_by("pk")


def _with_slots(step, questions):
    return [OpenQuestion(question, find_slot(step, *question.reading.slot)) for question in questions]
