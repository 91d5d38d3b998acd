"""Evaluations asked for as data: each answer is what evaluating it would return or raise."""

import pickle

import pytest

from inspections.bench import BenchError, UnknownTest
from inspections.bench.examples import EXAMPLES
from inspections.bench.many_evaluations import Question, Refusal, evaluate_questions
from inspections.bench.readings import Sheet
from inspections.bench.registry import get_test
from inspections.bench.serialise import context_from_dict, sheet_from_dict
from inspections.bench.strictest import evaluate_by_all


def question_of(code, *, sheet=None):
    example = EXAMPLES[code]
    context = context_from_dict(example.get("context", {}), instruments=example.get("instruments", ()))
    return Question(code, frozenset(), sheet or sheet_from_dict(example), context)


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_a_question_reaches_another_process_as_it_was(code):
    question = question_of(code)
    there = pickle.loads(pickle.dumps(question))
    assert there == question
    (answer,) = evaluate_questions([there])
    assert answer == evaluate_by_all(get_test(code), question.sheet, question.context, {})
    assert pickle.loads(pickle.dumps(answer)) == answer


def test_what_cannot_be_is_an_answer_and_raised_again_where_it_was_asked_for():
    sheet = sheet_from_dict(EXAMPLES["supply-failure"])
    wrong = Sheet({**sheet.values, "trip_fraction": sheet.values["set_flow"]}, sheet.tables, sheet.choices)
    refused, made = evaluate_questions([question_of("supply-failure", sheet=wrong), question_of("supply-failure")])
    assert made.results and isinstance(refused, Refusal)
    with pytest.raises(BenchError) as raised:
        refused.raise_it()
    assert raised.value.key == refused.key and str(raised.value) == refused.words
    with pytest.raises(ValueError, match="math domain") as raised:
        Refusal("math domain error").raise_it()
    assert type(raised.value) is ValueError


def test_an_unknown_test_is_no_answer():
    with pytest.raises(UnknownTest, match="no bench test"):
        evaluate_questions([Question("gone", frozenset(), Sheet({}, {}, {}), question_of("regulator").context)])
