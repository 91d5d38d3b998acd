"""Evaluations that are asked for as data, so that another process can make them: data in, results out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .declarations import Context
from .errors import BenchError
from .limits import Limit
from .readings import Sheet
from .registry import get_test
from .results import Evaluation
from .strictest import evaluate_by_all


@dataclass(frozen=True, slots=True)
class Question:
    """One evaluation to be made: what `evaluate_by_all` takes, the test by its code and what its machine lacks."""

    test: str
    lacks: frozenset[str]
    sheet: Sheet
    context: Context
    judges: Mapping[str, Sequence[Limit]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an evaluation was not made: the error of a reading named by `key`, or of a figure where `key` is None."""

    words: str
    key: str | None = None

    def raise_it(self):
        """Raise the error again: BenchError for one of a reading, else ValueError."""
        raise ValueError(self.words) if self.key is None else BenchError(self.key, self.words)


def evaluate_questions(questions: Sequence[Question], *, ask=None) -> list[Evaluation | Refusal]:
    """Return the evaluation of each question, or why there is none. `ask` is what `run_confined` passes; not used.

    Raises UnknownTest for a code that no test has.
    """
    return [_answer(one) for one in questions]


def _answer(question):
    test = get_test(question.test, question.lacks)
    try:
        return evaluate_by_all(test, question.sheet, question.context, question.judges)
    except BenchError as error:
        return Refusal(str(error), error.key)
    except (ArithmeticError, ValueError) as error:
        return Refusal(str(error))
