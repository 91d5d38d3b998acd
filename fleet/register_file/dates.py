"""Dates as people write them. The order of day and month is never guessed."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
TIME = r"(?:[T ]+00?:00(?::00(?:\.0+)?)?(?: ?AM)?)?"
ISO = re.compile(rf"([0-9]{{4}})([-/.])([0-9]{{1,2}})\2([0-9]{{1,2}}){TIME}", re.IGNORECASE)
NUMERIC = re.compile(rf"([0-9]{{1,2}})([-/.])([0-9]{{1,2}})\2([0-9]{{4}}){TIME}", re.IGNORECASE)
NAMED = re.compile(r"([0-9]{1,2})[ -/.]*([A-Za-z]{3,9})\.?[ -/.,]*([0-9]{4})")
NAMED_US = re.compile(r"([A-Za-z]{3,9})\.? ([0-9]{1,2}),? ([0-9]{4})")


@dataclass(frozen=True, slots=True)
class Order:
    """The order of the dates of one column: "iso", "day" or "month"; empty = ask. `why` is shown on the page."""

    order: str
    why: str = ""
    example: str = ""


def order_of(texts: Iterable[tuple[int, str]], said: str | None) -> Order:
    """Return the order of a column's texts, given as (row, text): the person's choice, or the only possible order."""
    if said:
        return Order(said)
    evidence = {"day": None, "month": None}
    doubtful = None
    for row, text in texts:
        match = NUMERIC.fullmatch(text)
        if not match:
            continue
        first, second = int(match.group(1)), int(match.group(3))
        if first > 12 >= second:
            evidence["day"] = evidence["day"] or (row, text)
        elif second > 12 >= first:
            evidence["month"] = evidence["month"] or (row, text)
        elif first != second:
            doubtful = doubtful or (row, text)
    return _judged(evidence, doubtful)


def _judged(evidence, doubtful):
    found = [order for order, seen in evidence.items() if seen]
    if len(found) == 2:
        (day_row, day_text), (month_row, month_text) = evidence["day"], evidence["month"]
        why = f"row {day_row} has the day first ({day_text}), row {month_row} the month ({month_text})"
        return Order("", why, day_text)
    if found:
        row, text = evidence[found[0]]
        return Order(found[0], f"{found[0]} first, since row {row} says {text}", text)
    if doubtful:
        return Order("", f"such as {doubtful[1]} in row {doubtful[0]}", doubtful[1])
    return Order("day")


def date_in(text: str, order: str) -> date | None:
    """Return the date in a text, or None if it is no date. Raises ValueError for a day not in the calendar."""
    if match := ISO.fullmatch(text):
        year, _, month, day = match.groups()
    elif match := NAMED.fullmatch(text):
        day, month, year = match.group(1), _month(match.group(2)), match.group(3)
    elif match := NAMED_US.fullmatch(text):
        month, day, year = _month(match.group(1)), match.group(2), match.group(3)
    elif (match := NUMERIC.fullmatch(text)) and order in ("day", "month"):
        day, month, year = match.group(1), match.group(3), match.group(4)
        if order == "month":
            day, month = month, day
    else:
        return None
    return None if month is None else date(int(year), int(month), int(day))


def _month(word):
    word = word.lower()
    if word in LONG_MONTHS:
        return LONG_MONTHS.index(word) + 1
    short = {"sept": "sep"}.get(word, word)
    return MONTHS.index(short) + 1 if short in MONTHS else None
