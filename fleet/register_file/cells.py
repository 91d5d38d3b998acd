"""One cell of a register file: parses text or a typed value, or says what is wrong with it."""

import math
import re
from dataclasses import dataclass
from datetime import date

from fleet.characters import REFUSED, name_of
from fleet.days import FIRST_DAY, LAST_DAY
from fleet.export.cells import text_of
from fleet.export.defusing import ERRORS, Kept
from fleet.register_file.columns import Column, ColumnKind
from fleet.register_file.dates import date_in
from fleet.register_file.numbers import number_in
from fleet.register_file.spellings import (
    ACCEPTED_SIZES,
    ACCEPTED_STATES,
    NOT_KNOWN,
    SIZE_COLUMNS,
    plain,
    sizes_in,
    state_in,
)
from fleet.register_file.workbook import NoValue

FIRST_YEAR, LAST_YEAR = FIRST_DAY.year, LAST_DAY.year
FIRST_DAY_NUMBER, LAST_DAY_NUMBER = 10_000, 73_415  # 1927-05-18 to 2100-12-31, as spreadsheets count days from 1900
DAY_ZERO = date(1899, 12, 30).toordinal()
FOUR_DIGITS = re.compile(r"[0-9]{4}")
SHORTENED = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]{2,}")
FREE_TEXT = 200  # a text this long is never parsed as a date


class CellRefused(Exception):
    """A cell that cannot be parsed: `message` and `accepted`, both sentences."""

    def __init__(self, message, accepted):
        super().__init__(message)
        self.message = message
        self.accepted = accepted


@dataclass(frozen=True, slots=True)
class Manner:
    """How to parse the cells of a column: order of its dates ("" = not decided yet), whether it has decimal commas."""

    order: str = "iso"
    comma_used: bool = False


def value_of(column: Column, cell, manner: Manner = Manner()):  # noqa: B008
    """Return the value of a cell that is not blank. Raises CellRefused.

    str for TEXT, WORD and STATE, int for YEAR, date for DATE, float for NUMBER, [number, unit] for QUANTITY, a mapping
    of features to states for SIZE.
    """
    if isinstance(cell, NoValue):
        message = "is a formula without a stored result."
        raise CellRefused(
            message, "a value. Open the file in the spreadsheet, let it calculate, and save the file again."
        )
    if isinstance(cell, str) and not isinstance(cell, Kept) and cell.upper() in ERRORS:
        raise CellRefused("is a spreadsheet error.", "a value, or blank.")
    if isinstance(cell, str) and (found := REFUSED.search(cell)):
        message = f"contains {name_of(found[0])}, a character that cannot be printed."
        raise CellRefused(message, "letters, digits and punctuation.")
    if isinstance(cell, str) and "\ufffd" in cell:
        raise CellRefused(
            "contains the replacement character of lost text.", "the original text, in a file saved as UTF-8."
        )
    return READERS[column.kind](column, cell, manner)


def _text(column, cell, manner):
    if isinstance(cell, date) and column.longest < FREE_TEXT:
        message = "is a date: the spreadsheet has converted a text such as 3-12, or the column is wrongly assigned."
        raise CellRefused(message, "text. Format the column as text and enter it again.")
    if isinstance(cell, (int, float)) and not isinstance(cell, bool) and abs(cell) >= 1e15:
        raise CellRefused("is a number so long that the spreadsheet has dropped digits.", "the digits, kept as text.")
    is_bare = isinstance(cell, str) and not isinstance(cell, Kept)
    if is_bare and SHORTENED.fullmatch(cell) and column.longest < FREE_TEXT:
        message = "is a long number that a spreadsheet has shortened."
        raise CellRefused(message, "all its digits; if the text is meant literally, put an apostrophe before it.")
    text = text_of(cell)
    if len(text) > column.longest:
        raise CellRefused(f"has {len(text)} characters.", f"at most {column.longest} characters.")
    return text


def _year(column, cell, manner):
    if isinstance(cell, date):
        return cell.year
    text = text_of(cell)
    if not FOUR_DIGITS.fullmatch(text):
        day = _day_or_none(text, "day") or _day_or_none(text, "month")  # the year is the same in both orders
        if day is None:
            raise CellRefused("is not a year.", f"four digits from {FIRST_YEAR} to {LAST_YEAR}, such as 1994.")
        return day.year
    if not FIRST_YEAR <= int(text) <= LAST_YEAR:
        raise CellRefused("is not a year.", f"four digits from {FIRST_YEAR} to {LAST_YEAR}, such as 1994.")
    return int(text)


def _day_or_none(text, order):
    try:
        return date_in(text, order)
    except ValueError:
        return None


def _date(column, cell, manner):
    accepted = "a date as year-month-day, such as 2019-03-31, or with the month in letters, such as 31 Mar 2019."
    if isinstance(cell, date):
        return _in_time(cell)
    if isinstance(cell, (int, float)) and not isinstance(cell, bool):
        if not FIRST_DAY_NUMBER <= cell <= LAST_DAY_NUMBER:
            raise CellRefused("is a number, not a date.", accepted)
        return date.fromordinal(DAY_ZERO + int(cell))
    try:
        day = date_in(text_of(cell), manner.order)
    except ValueError:
        raise CellRefused("is not a calendar date.", accepted) from None
    if day is None:
        has_digits = any(letter.isdigit() for letter in text_of(cell))
        raise CellRefused("can be read as more than one date." if has_digits else "is not a date.", accepted)
    return _in_time(day)


def _in_time(day):
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise CellRefused("is outside the accepted period.", f"a date from {FIRST_YEAR} to {LAST_YEAR}.")
    return day


def _word(column, cell, manner):
    written = " ".join(text_of(cell).split())
    spellings = dict(column.spellings) | {word: word for word in column.words}
    if written in spellings:
        return spellings[written]
    meant = {word for spelling, word in spellings.items() if plain(spelling) == plain(written)}
    if len(meant) > 1:
        raise CellRefused("can be read in more than one way.", f"capitals as in {', '.join(sorted(meant))}.")
    if not meant:
        raise CellRefused("is not accepted in this column.", f"{', '.join(column.words)}, or blank.")
    return meant.pop()


def _state(column, cell, manner):
    state = state_in(text_of(cell))
    if state is None:
        raise CellRefused("is not accepted in this column.", ACCEPTED_STATES)
    return state


def _size(column, cell, manner):
    text = text_of(cell)
    if state_in(text) == NOT_KNOWN:
        return {}
    sizes = sizes_in(text)
    if not sizes:
        raise CellRefused("is not a connector size.", ACCEPTED_SIZES)
    return SIZE_COLUMNS[column.name](sizes)


def _number(column, cell, manner):
    number = cell if isinstance(cell, (int, float)) else None
    if isinstance(cell, str):
        number = number_in(cell, comma_used=manner.comma_used)
    if number is None or isinstance(cell, bool) or not math.isfinite(number):
        raise CellRefused("can be read as more than one number.", "a number such as 1250 or 0.5, without unit.")
    return float(number)


def _quantity(column, cell, manner):
    accepted = f"a number and a unit ({', '.join(column.words)}), such as 45 {column.words[0]}."
    text = text_of(cell).strip().removesuffix("gauge").strip()
    ends = sorted(column.words, key=len, reverse=True)  # longest first: “mL/min” before “min”
    found = [unit for unit in ends if text.endswith(unit)] or [u for u in ends if text.lower().endswith(u.lower())]
    unit = next(iter(found), None)
    if unit and not text.endswith(unit) and any(u != unit and u.lower() == unit.lower() for u in ends):
        raise CellRefused("has a unit that can be read in more than one way.", accepted)
    number = number_in(text[: -len(unit)], comma_used=manner.comma_used) if unit else None
    if number is None or not math.isfinite(number):
        raise CellRefused("is not a number with one of the units of this column.", accepted)
    return [number, unit]


READERS = {
    ColumnKind.TEXT: _text,
    ColumnKind.YEAR: _year,
    ColumnKind.DATE: _date,
    ColumnKind.WORD: _word,
    ColumnKind.STATE: _state,
    ColumnKind.SIZE: _size,
    ColumnKind.NUMBER: _number,
    ColumnKind.QUANTITY: _quantity,
}
