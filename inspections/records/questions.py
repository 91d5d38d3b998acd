"""What was asked about the readings of a step, as the signature freezes it and as pages and papers show it."""

from fleet.place_format import current, quantities_in_words
from inspections.models import QuestionAnswer, ReadingQuestion


def questions_by_step(inspection):
    """Map the key of each step to what was asked about its readings, as plain data in order; one query."""
    found = {}
    rows = ReadingQuestion.objects.of_inspection(inspection).with_readings().order_by("pk")
    for question in rows:
        found.setdefault(question.reading.step_id, []).append(_question_content(question))
    return found


def questions_in_words(content):
    """Return a sentence for each question of a step of a record; none in records from before questions were asked."""
    return [quantities_in_words(_sentence(one), current()) for one in content.get("questions", [])]


def _question_content(question):
    """`answer` in words; `by` and `at` say who answered and when, and are null where nobody did."""
    reading = question.reading
    return {
        "field": reading.field,
        "row": reading.row,
        "column": reading.column,
        "read": str(reading),
        "kind": str(question.kind),
        "asked": question.asked,
        "answer": question.answer_words if question.answer != QuestionAnswer.OPEN else "",
        "by": {"username": question.by.username, "name": str(question.by)} if question.by else None,
        "at": question.at.isoformat() if question.at else None,
    }


def _sentence(one):
    answered = f"{one['answer']}, {one['by']['name']}" if one["answer"] else "not answered"
    return f"Asked about {one['read']}: “{one['asked']}” Answer: {answered}."
