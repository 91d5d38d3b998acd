"""The range of days that can be entered or queried, how a day is parsed, and how one is written in a sentence."""

import re
from argparse import ArgumentTypeError
from datetime import date, datetime

from fleet.place_format import current, day_text, short_day_text

# No machine, component or certificate is older, and no plan reaches further; date arithmetic stays far from the
# ends of the calendar. Common practice, no source.
FIRST_DAY = date(1900, 1, 1)
LAST_DAY = date(2100, 12, 31)
WRITTEN = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")  # RFC 3339, full-date


def read_day(text: str) -> date:
    """Parse year-month-day. Raises ValueError with a sentence of what is accepted."""
    try:
        if not WRITTEN.fullmatch(text):
            raise ValueError
        return day_within(date.fromisoformat(text))
    except ValueError:
        raise ValueError(f"“{text[:40]}” is not a valid date. {ACCEPTED}") from None


def day_within(day: date) -> date:
    """Return `day`. Raises ValueError with a sentence if it is not from FIRST_DAY to LAST_DAY."""
    if not FIRST_DAY <= day <= LAST_DAY:
        raise ValueError(f"{day.isoformat()} is not a valid date. {ACCEPTED}")
    return day


def day_argument(text: str) -> date:
    """Parse a day on the command line. Raises ArgumentTypeError, whose sentence argparse prints."""
    try:
        return read_day(text)
    except ValueError as error:
        raise ArgumentTypeError(str(error)) from None


ACCEPTED = f"Enter a date as year-month-day, from {FIRST_DAY} to {LAST_DAY}, such as 2019-03-31."


def long_date(day: date) -> str:
    """Return a day as the place that is shown now writes it; "2 Nov 2026" without a place."""
    return day_text(day, current().day)


def long_moment(moment: datetime) -> str:
    """Return "2 Nov 2026, 14:05 (UTC)" in the time zone of the moment, which must be aware."""
    return f"{long_date(moment)}, {moment:%H:%M} ({moment.tzname()})"


def moment_in_words(moment: datetime) -> str:
    """Return "2 Nov 2026 at 14:05" in the time zone of the moment, for a sentence."""
    return f"{long_date(moment)} at {moment:%H:%M}"


def day_of_year(day: date) -> str:
    """Return "2 Nov", or as the place that is shown now writes it, where the year is clear."""
    return short_day_text(day, current().day)
