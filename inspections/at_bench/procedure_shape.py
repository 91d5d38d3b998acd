"""What a procedure may hold before any name in it is looked up: the type, length and characters of every value.

A file may come from anywhere, so nothing about its values is taken for granted. Lengths are those of the columns
that take the values later, or common practice, no source.
"""

import re
from dataclasses import dataclass
from math import isfinite

from fleet.characters import refusal_of
from inspections.errors import ProcedureError

SLUG = re.compile(r"[-a-zA-Z0-9_]+")
LONGEST_CODE = 40
LONGEST_TITLE = 120
LONGEST_STEP_TITLE = 160
LONGEST_TEXT = 4000
MOST_STEPS = 200
MOST_LIMITS = 40
MOST_IN_A_LIST = 100
MOST_MONTHS = 120
MOST_DAYS = 365
MOST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Kind:
    """What one value must be: `accepted` in words, `fits` a function of the value."""

    accepted: str
    fits: object


def text_of(longest, *, may_be_empty=True):
    words = f"a text of at most {longest:,} characters" + ("" if may_be_empty else ", not empty")
    return Kind(words, lambda one: isinstance(one, str) and len(one) <= longest and (may_be_empty or bool(one.strip())))


def whole(low, high):
    words = f"a whole number from {low} to {high:,}"
    return Kind(words, lambda one: isinstance(one, int) and not isinstance(one, bool) and low <= one <= high)


def _are_texts(value, longest):
    return (
        isinstance(value, list)
        and len(value) <= MOST_IN_A_LIST
        and all(isinstance(one, str) and len(one) <= longest for one in value)
    )


def _are_codes_by_code(value):
    return (
        isinstance(value, dict) and len(value) <= MOST_IN_A_LIST and all(isinstance(one, str) for one in value.values())
    )


def _are_tables(value, most):
    return isinstance(value, list) and len(value) <= most and all(isinstance(one, dict) for one in value)


CODE = Kind(
    f"letters, digits, hyphens and underscores, at most {LONGEST_CODE}",
    lambda one: isinstance(one, str) and len(one) <= LONGEST_CODE and SLUG.fullmatch(one) is not None,
)
TEXT = text_of(LONGEST_TEXT)
TITLE = text_of(LONGEST_TITLE, may_be_empty=False)
FLAG = Kind("true or false", lambda one: isinstance(one, bool))
NUMBER = Kind(
    "a finite number", lambda one: isinstance(one, int | float) and not isinstance(one, bool) and _is_finite(one)
)
CODES = Kind(f"a list of at most {MOST_IN_A_LIST} codes in quotation marks", lambda one: _are_texts(one, LONGEST_TITLE))
TEXTS = Kind(f"a list of at most {MOST_IN_A_LIST} sentences", lambda one: _are_texts(one, LONGEST_TEXT))
CODE_BY_CODE = Kind('a table of codes, such as key = "code"', _are_codes_by_code)
STEPS = Kind(f"at least one and at most {MOST_STEPS} [[step]]", lambda one: one != [] and _are_tables(one, MOST_STEPS))
LIMITS = Kind(f"at most {MOST_LIMITS} [[step.limit]]", lambda one: _are_tables(one, MOST_LIMITS))
ENTRIES = Kind("[[not_tested_here]] entries", lambda one: _are_tables(one, MOST_IN_A_LIST))

OF_PROCEDURE = {
    "code": CODE, "title": TITLE, "purpose": TEXT, "interval_months": whole(1, MOST_MONTHS),
    "window_days": whole(0, MOST_DAYS), "cautions": TEXTS, "pre_use": FLAG, "step": STEPS,
    "not_tested_here": ENTRIES, "contains": CODES,
}  # fmt: skip
OF_STEP = {
    "use": CODE, "code": CODE, "title": text_of(LONGEST_STEP_TITLE, may_be_empty=False), "test": CODE,
    "essential": FLAG, "purpose": TEXT, "feature": TEXT, "or_feature": TEXT, "needs": CODES, "component": TEXT,
    "gas": TEXT, "each": TEXT, "repeat_after": CODES, "instruction": TEXT, "item": TEXT, "caution": TEXT,
    "rules": CODE_BY_CODE, "choices": CODE_BY_CODE, "source": TEXT, "limit": LIMITS, "conditional": TEXT,
    "rated": TEXT, "from_record": CODE_BY_CODE, "finds": TEXTS,
}  # fmt: skip
OF_LIMIT = {
    "key": TEXT, "rule": CODE, "title": TITLE, "lower": NUMBER, "upper": NUMBER, "unit": TEXT, "source": TEXT,
    "edition": TEXT, "basis": TEXT, "note": TEXT,
}  # fmt: skip
OF_ENTRY = {"features": CODES, "reason": TEXT}


def check_shape(table, kinds, where):
    """Raise ProcedureError for the first value of a table that is not of its kind. Unknown keys are not looked at."""
    for key, value in table.items():
        if key not in kinds:
            continue
        if not kinds[key].fits(value):
            raise ProcedureError(f"{where}: {key} = {shown(value)} is not accepted. Accepted: {kinds[key].accepted}.")
        for text in _texts_in(value):
            if refusal := refusal_of(text):
                raise ProcedureError(f"{where}: {key}: {refusal}")


def shown(value):
    """Return a value as a message shows it, cut to a readable length."""
    words = f"“{value}”" if isinstance(value, str) else f"{type(value).__name__} {_start_of(value)}"
    return words if len(words) <= MOST_SHOWN else f"{words[:MOST_SHOWN]}…"


def _start_of(value):
    """A number of thousands of digits cannot be written out."""
    if isinstance(value, list | dict):
        return f"of {len(value)}"
    try:
        return repr(value)
    except ValueError:
        return "of many digits"


def _is_finite(number):
    try:
        return isfinite(number)
    except OverflowError:
        return False


def _texts_in(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        yield from (one for one in value if isinstance(one, str))
    elif isinstance(value, dict):
        yield from (one for pair in value.items() for one in pair if isinstance(one, str))
