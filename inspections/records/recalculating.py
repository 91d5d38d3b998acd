"""Signed records recalculated in batches, each batch evaluated in whichever of several processes is free.

Only this process reads the store: it gathers the readings of a batch and compares what comes back. A process that
evaluates gets data, knows no database and returns data (`run_confined`); that works below a Celery worker as well,
whose processes may have no children of Python's own kind.
"""

import logging
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice

from fleet.confined import Busy, Exceeded, Limits, run_confined
from inspections.bench.many_evaluations import Refusal, evaluate_questions
from inspections.records.reevaluation import signed_steps

BATCH = 10  # records
MOST_WAITING = 8  # batches whose answers are held until it is their turn
FEWEST = 40  # records that are worth the start of a process
ELSEWHERE = "inspections.bench.evaluated_elsewhere:evaluate_questions"
LIMITS = Limits(cpu_s=600, wall_s=1800.0, memory_bytes=1024 * 1024 * 1024, answer_bytes=256 * 1024 * 1024)
log = logging.getLogger(__name__)


def recalculated(inspections, number, *, processes):
    """Yield (inspection, differences) of each signed inspection, in the order given.

    inspections  with machine, area, site, model and record loaded; `number` is how many there are
    processes    how many evaluate at a time, this one among them; for few records it does so alone
    """
    if processes < 2 or number < FEWEST:
        for batch in _batches(inspections):
            yield from _compared(batch, signed_steps(batch), None)
        return
    with ThreadPoolExecutor(processes - 1, thread_name_prefix="evaluation") as pool:
        yield from _in_turn(inspections, pool, processes - 1)


def _in_turn(inspections, pool, others):
    """Have batches evaluated by the other processes, and evaluate one here whenever all of them are at work.

    So a computer that has no time for the others delays nothing.
    """
    asked = deque()
    try:
        for batch in _batches(inspections):
            steps = signed_steps(batch)
            questions = [[step.question() for step in of_one] for of_one in steps]
            given = [one for of_one in questions for one in of_one if one is not None]
            is_free = sum(not answers.done() for *_, answers in asked) < others
            answers = pool.submit(_evaluated, given) if is_free else _evaluated_here(given)
            asked.append((batch, steps, questions, answers))
            while asked and (asked[0][-1].done() or len(asked) > MOST_WAITING):
                yield from _answered(*asked.popleft())
        while asked:
            yield from _answered(*asked.popleft())
    finally:
        for *_, answers in asked:  # the job was cancelled: what has not begun is not evaluated any more
            answers.cancel()


def _evaluated_here(questions):
    answers = Future()
    answers.set_result(evaluate_questions(questions))
    return answers


def _evaluated(questions):
    """Return the answers, from another process; from this one if that ends before it answers."""
    try:
        return run_confined(ELSEWHERE, questions, limits=LIMITS)
    except (Busy, Exceeded, RuntimeError, OSError):
        log.warning("a process did not evaluate its batch; it is evaluated here", exc_info=True)
        return evaluate_questions(questions)


def _answered(batch, steps, questions, answers):
    answers = iter(answers.result())
    by_record = [[None if one is None else _given(next(answers)) for one in of_one] for of_one in questions]
    yield from _compared(batch, steps, by_record)


def _given(answer):
    return answer.raise_it if isinstance(answer, Refusal) else lambda: answer


def _compared(batch, steps, answers):
    for number, (inspection, of_one) in enumerate(zip(batch, steps, strict=True)):
        given = answers[number] if answers else [None] * len(of_one)
        pairs = zip(of_one, given, strict=True)
        yield inspection, [difference for step, answer in pairs for difference in step.differences(answer)]


def _batches(inspections):
    inspections = iter(inspections)
    while batch := list(islice(inspections, BATCH)):
        yield batch
