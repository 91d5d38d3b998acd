"""The steps of a draft with one change made: plain lists in and out. A step is named by its code."""

from fleet.canonical import canonical_json, digest_of
from inspections.at_bench.procedure_files import read_shared_steps
from inspections.at_bench.procedure_shape import LONGEST_CODE, MOST_STEPS, SLUG
from inspections.bench import TESTS
from inspections.errors import ProcedureError

HEAD_KEYS = ("title", "purpose", "interval_months", "window_days", "contains", "cautions")
UP, DOWN = "up", "down"


def empty_procedure(code, title):
    return {"code": code, "title": title, "window_days": 14, "step": []}


def head_of(content):
    """Return what a procedure says of itself beside its steps and what it does not test."""
    return {key: content[key] for key in HEAD_KEYS if key in content}


def find_step(content, code):
    """Return the step with this code, None if there is none."""
    return next((step for step in content["step"] if step["code"] == code), None)


def number_of(content, code):
    return next(number for number, step in enumerate(content["step"], start=1) if step["code"] == code)


def order_of(content):
    return [step["code"] for step in content["step"]]


def shared_step(code):
    """Return a copy of a shared step. Raise ProcedureError for one that there is not."""
    shared = read_shared_steps()
    if code not in shared:
        raise ProcedureError(f"“{code}” is not a shared step. Accepted: {', '.join(shared)}.")
    return shared[code]


def new_step(test_code, *, code, title):
    """Return a step of a bench test with what every step has. Raise ProcedureError with what is accepted."""
    if test_code not in TESTS:
        raise ProcedureError(f"“{test_code}” is not a bench test. Accepted: {', '.join(TESTS)}.")
    if not SLUG.fullmatch(code) or len(code) > LONGEST_CODE:
        raise ProcedureError(
            f"Step code “{code}” is not accepted. Accepted: letters, digits, hyphens and underscores, at most "
            f"{LONGEST_CODE}."
        )
    return {"code": code, "title": title.strip() or TESTS[test_code].title, "test": test_code}


def with_added(steps, added, *, after=None):
    """Return the steps with others after the one with the code `after`, at the end without one."""
    there = {step["code"] for step in steps}
    if taken := next((step["code"] for step in added if step["code"] in there), None):
        raise ProcedureError(f"There is a step “{taken}” already. Give the new one another code.")
    if len(steps) + len(added) > MOST_STEPS:
        raise ProcedureError(
            f"A procedure has at most {MOST_STEPS} steps; this one would have {len(steps) + len(added)}."
        )
    at = len(steps) if after is None else _index(steps, after) + 1
    return [*steps[:at], *added, *steps[at:]]


def with_moved(steps, code, direction):
    """Return the steps with one a place earlier or later; unchanged at the end of the list."""
    at = _index(steps, code)
    to = at + (-1 if direction == UP else 1)
    if not 0 <= to < len(steps):
        return list(steps)
    moved = list(steps)
    moved[at], moved[to] = moved[to], moved[at]
    return moved


def without(steps, code):
    at = _index(steps, code)
    return [*steps[:at], *steps[at + 1 :]]


def with_replaced(steps, code, step):
    at = _index(steps, code)
    return [*steps[:at], step, *steps[at + 1 :]]


def free_code(code, taken):
    """Return the code, with a number where it is taken."""
    free, number = code, 2
    while free in taken:
        free, number = f"{code[: LONGEST_CODE - 4]}-{number}", number + 1
    return free


def token_of(piece):
    """Return a short digest of a piece of a draft, sent with a form so that nobody overwrites what they did not see."""
    return digest_of(canonical_json(piece))[:16]


def _index(steps, code):
    found = next((at for at, step in enumerate(steps) if step["code"] == code), None)
    if found is None:
        raise ProcedureError(f"There is no step “{code}” any more: somebody removed it meanwhile. Nothing was saved.")
    return found
