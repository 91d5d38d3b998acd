"""Ask about a reading as it is entered, and close the questions about one that was replaced."""

from fleet.models.querysets.prepared_queries import prepared
from inspections.at_bench.doubts import contradicts, doubts_about
from inspections.machine_trends.departures import departures_in
from inspections.models import QuestionAnswer, QuestionKind, Reading, ReadingQuestion


def ask_about(step, entered, *, by, at):
    """Store the questions that a reading raises; a question that it settles is closed.

    What somebody has already called right in the same place is not asked about again.
    """
    current, questions = _current(step.pk), _questions(step.pk)
    _close_settled_pairs(step, entered, current, questions, by=by, at=at)
    if any(one.answer == QuestionAnswer.RIGHT and _says_the_same(one.reading, entered) for one in questions):
        return
    doubtful = {
        one.reading.slot
        for one in questions
        if one.is_open and one.reading.superseded_at is None and one.kind != QuestionKind.TREND  # the step is in doubt
    }
    doubts = doubts_about(step, entered, current, doubtful=doubtful)
    ReadingQuestion.objects.bulk_create(
        ReadingQuestion(
            reading=entered, kind=doubt.kind, asked=doubt.asked, alternatives=list(doubt.alternatives), asked_at=at
        )
        for doubt in doubts
    )
    if not doubts:
        _ask_about_trend(step, entered, current, questions, by=by, at=at)


@prepared
def _current(step):
    return Reading.objects.current().filter(step=step).select_related("instrument")


@prepared
def _questions(step):
    return ReadingQuestion.objects.of_step(step).select_related("reading")


def _ask_about_trend(step, entered, current, questions, *, by, at):
    """Ask once about a result that departs from its trend, beside the reading that completed it.

    The question is closed when another reading lets the result follow the trend.
    """
    asked = [one for one in questions if one.kind == QuestionKind.TREND and one.reading.superseded_at is None]
    if any(one.answer == QuestionAnswer.RIGHT for one in asked):
        return
    found = departures_in(step, current, at=at)
    waiting = [one.pk for one in asked if one.is_open]
    if found is None:
        return
    if waiting and not found:
        _close(ReadingQuestion.objects.filter(pk__in=waiting), entered, by=by, at=at)
    elif found and not waiting:
        words = found[0].asked[:400]
        ReadingQuestion.objects.create(reading=entered, kind=QuestionKind.TREND, asked=words, asked_at=at)


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
