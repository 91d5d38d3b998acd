"""What a procedure file says, from the frozen content of a version, and as the text of a file.

A version holds every limit of its tests, resolved in SI. A file holds the limits that the procedure states itself, in
their own units; those that the tests publish come in again when it is read.
"""

import math
from dataclasses import asdict

import tomli_w

from inspections.bench import TESTS, from_si, to_si

KEYS_FIRST = ("code", "title", "purpose", "interval_months", "window_days", "contains", "cautions", "pre_use")
STEP_KEYS_FIRST = (
    "code", "title", "test", "essential", "purpose", "feature", "or_feature", "needs", "component", "rated", "gas",
    "each", "from_record", "repeat_after", "instruction", "item", "caution", "conditional", "source", "finds",
    "choices", "rules", "limit",
)  # fmt: skip
LIMIT_KEYS = ("key", "rule", "title", "unit", "source", "edition", "basis", "note")
MOST_DIGITS = 17  # of a float, so that it reads back as the same


def written_form(content):
    """Return what a file says that freezes to this content of a version."""
    written = {key: value for key, value in content.items() if key != "step"}
    return {**written, "step": [_written_step(step) for step in content["step"]]}


def toml_text(written):
    """Return the text of the procedure file that says this."""
    steps = [_in_order(step, STEP_KEYS_FIRST) for step in written["step"]]
    ends = {"step": steps} | {key: written[key] for key in ("not_tested_here",) if key in written}
    head = {key: value for key, value in written.items() if key not in ends}
    return tomli_w.dumps(_in_order(head, KEYS_FIRST) | ends)


def own_limits(step):
    """Return the limits, as a version holds them, that the step states itself: those before the published ones."""
    limits, test = step.get("limits", []), TESTS.get(step["test"])
    published = [asdict(one) for one in test.default_limits] if test else []
    if published and limits[-len(published) :] == published:
        return limits[: -len(published)]
    rules = {(one["key"], one["rule"]) for one in published}  # the published ones have changed since
    return [one for one in limits if (one["key"], one["rule"]) not in rules and _a_file_can_say(one)]


def _a_file_can_say(limit):
    return not (limit.get("built_from") or limit.get("built_before") or limit.get("strict"))


def _written_step(step):
    written = {key: value for key, value in step.items() if key != "limits"}
    own = [_written_limit(limit) for limit in own_limits(step)]
    return written | ({"limit": own} if own else {})


def _written_limit(limit):
    said = {key: limit[key] for key in LIMIT_KEYS if limit.get(key)}
    unit = limit["unit"]
    ends = {end: limit[f"{end}_si"] for end in ("lower", "upper") if limit[f"{end}_si"] is not None}
    return said | {end: shortest_that_reads_back(value, unit) for end, value in ends.items()}


def shortest_that_reads_back(value_si, unit):
    """Return the shortest number in `unit` that is exactly `value_si` in SI; the nearest where none is."""
    near = from_si(value_si, unit)
    rounded = (float(f"{near:.{digits}g}") for digits in range(1, MOST_DIGITS + 1))
    beside = (math.nextafter(near, end) for end in (-math.inf, math.inf))
    return next((one for one in (*rounded, *beside) if _reads_as(one, unit, value_si)), near)


def _reads_as(number, unit, value_si):
    try:
        return to_si(number, unit) == value_si
    except ValueError:  # rounded to below absolute zero
        return False


def _in_order(table, first):
    return {key: table[key] for key in first if key in table} | {
        key: value for key, value in table.items() if key not in first
    }
