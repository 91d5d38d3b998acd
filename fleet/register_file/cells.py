"""One cell of a register file: text in, value out, or what is wrong with it."""

import re
from datetime import date

from fleet.register_file.columns import Column, ColumnKind

FIRST_YEAR, LAST_YEAR = 1900, 2100
FOUR_DIGITS = re.compile(r"[0-9]{4}")
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


class CellRefused(Exception):
    """A cell that says nothing the register can keep: `message` and `accepted`, both sentences."""

    def __init__(self, message, accepted):
        super().__init__(message)
        self.message = message
        self.accepted = accepted


def value_of(column: Column, text: str):
    """Return what a non-empty, stripped cell says: str, int (year) or date. Raises CellRefused."""
    return READERS[column.kind](column, text)


def _text(column, text):
    if CONTROL.search(text):
        raise CellRefused("holds characters that cannot be printed.", "letters, digits and punctuation.")
    if len(text) > column.longest:
        raise CellRefused(f"has {len(text)} characters.", f"at most {column.longest} characters.")
    return text


def _year(column, text):
    if not FOUR_DIGITS.fullmatch(text) or not FIRST_YEAR <= int(text) <= LAST_YEAR:
        raise CellRefused("is not a year.", f"four digits from {FIRST_YEAR} to {LAST_YEAR}, such as 1994.")
    return int(text)


def _date(column, text):
    accepted = "a date as year-month-day, such as 2019-03-31."
    if not DAY.fullmatch(text):
        raise CellRefused("is not a date that can be read one way only.", accepted)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CellRefused("is not a day of the calendar.", accepted) from None


def _word(column, text):
    word = " ".join(text.lower().split())
    if word not in column.words:
        raise CellRefused("is not one of the words of this column.", f"{', '.join(column.words)}, or blank.")
    return word


READERS = {ColumnKind.TEXT: _text, ColumnKind.YEAR: _year, ColumnKind.DATE: _date, ColumnKind.WORD: _word}
