"""What a process loads that evaluates for another one; imported there alone, before it forks (nursery.py).

Each example is evaluated once, so that numpy, scipy and the tables that evaluations keep are there in every child.
"""

from .examples import EXAMPLES
from .many_evaluations import Question, evaluate_questions
from .serialise import context_from_dict, sheet_from_dict

__all__ = ["evaluate_questions"]


def _question(example):
    context = context_from_dict(example.get("context", {}), instruments=example.get("instruments", ()))
    return Question(example["test"], frozenset(), sheet_from_dict(example), context)


evaluate_questions([_question(example) for example in EXAMPLES.values()])
