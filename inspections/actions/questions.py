"""Answer a question about a reading: it is right as it is, or what was meant is entered instead."""

from dataclasses import replace

from django.db import transaction

from inspections.actions.bench import enter_reading
from inspections.actions.holding import hold_in_progress
from inspections.at_bench.reading_entry import make_entry
from inspections.at_bench.slots import find_slot
from inspections.at_bench.taken_instrument import instrument_of_meant
from inspections.errors import QuestionSettled
from inspections.models import QuestionAnswer, ReadingQuestion


@transaction.atomic
def confirm_reading(question, *, by, at):
    """Answer that the reading is right as it is; it is not asked about again.

    Raise QuestionSettled if it was answered otherwise or the reading replaced, RecordFrozen if the inspection is not in
    progress.
    """
    hold_in_progress(question.reading.step)
    asked = ReadingQuestion.objects.open().filter(pk=question.pk)
    if not asked.exists():
        question.refresh_from_db()
        if question.answer != QuestionAnswer.RIGHT:
            raise QuestionSettled(f"This question is settled: {question.answer_words}. Check the current reading.")
        return
    ReadingQuestion.objects.filter(pk=question.pk).update(answer=QuestionAnswer.RIGHT, by=by, at=at)
    question.refresh_from_db()


@transaction.atomic
def enter_meant(question, number, *, by, at, instruments=()):
    """Enter alternative `number` of a question in place of the reading; return what was entered.

    instruments  those at hand, of which the test set of `by` may hold one that fits the value better

    Raise QuestionSettled if there is none such, or the question is answered already; ReadingRefused and RecordFrozen
    as `enter_reading` does.
    """
    reading = question.reading
    hold_in_progress(reading.step)
    if not ReadingQuestion.objects.open().filter(pk=question.pk).exists():
        question.refresh_from_db()
        raise QuestionSettled(f"This question is settled: {question.answer_words}. Check the current reading.")
    if not 0 <= number < len(question.alternatives):
        raise QuestionSettled(f"“{question}” has {len(question.alternatives)} alternatives; there is no other one.")
    meant, slot = question.alternatives[number], find_slot(reading.step, *reading.slot)
    entry = make_entry(
        slot, meant["as_read"], unit=meant["unit"], zero=reading.zero, instrument=reading.instrument, seen=reading.pk
    )
    ambient = reading.step.inspection.ambient_pa_abs
    instrument = instrument_of_meant(entry, reading.instrument, instruments, ambient_pa_abs=ambient)
    # Another unit is meant for the repeats as well; other digits say nothing of them.
    again = reading.read_again if entry.as_read == reading.as_read else ""
    return enter_reading(reading.step, replace(entry, instrument=instrument, read_again=again), by=by, at=at)
