"""Ask about a reading as it is entered, and close the questions about one that was replaced."""

from inspections.at_bench.doubts import contradicts, doubts_about
from inspections.models import QuestionAnswer, QuestionKind, Reading, ReadingQuestion


def ask_about(step, entered, *, by, at):
    """Store the questions that a reading raises; a question that it settles is closed.

    What somebody has already called right in the same place is not asked about again.
    """
    current = list(Reading.objects.current().filter(step=step).select_related("instrument"))
    questions = list(ReadingQuestion.objects.of_step(step).with_readings())
    _close_settled_pairs(step, entered, current, questions, by=by, at=at)
    if any(one.answer == QuestionAnswer.RIGHT and _says_the_same(one.reading, entered) for one in questions):
        return
    doubtful = {one.reading.slot for one in questions if one.is_open and one.reading.superseded_at is None}
    doubts = doubts_about(step, entered, current, doubtful=doubtful)
    ReadingQuestion.objects.bulk_create(
        ReadingQuestion(
            reading=entered, kind=doubt.kind, asked=doubt.asked, alternatives=list(doubt.alternatives), asked_at=at
        )
        for doubt in doubts
    )


def close_questions_about(replaced, entered, *, by, at):
    """Note with the questions about a reading that another one was entered, or that it was taken back."""
    _close(ReadingQuestion.objects.filter(reading=replaced, answer=QuestionAnswer.OPEN), entered, by=by, at=at)


def _close(questions, entered, *, by, at):
    questions.update(answer=QuestionAnswer.CHANGED, changed_to=entered, by=by, at=at)


def _close_settled_pairs(step, entered, current, questions, *, by, at):
    """Close what was asked about another place, if the reading there no longer contradicts anything."""
    for one in questions:
        is_open_pair = one.is_open and one.kind == QuestionKind.PAIR and one.reading.superseded_at is None
        if is_open_pair and one.reading.slot != entered.slot and not contradicts(step, one.reading, current):
            _close(ReadingQuestion.objects.filter(pk=one.pk), entered, by=by, at=at)
            one.answer = QuestionAnswer.CHANGED


def _says_the_same(one, other):
    names = ("field", "row", "column", "as_read", "read_again", "unit", "zero")
    return all(getattr(one, name) == getattr(other, name) for name in names)
