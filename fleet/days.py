"""The range of days that can be entered or queried, and how a day is parsed."""

import re
from argparse import ArgumentTypeError
from datetime import date

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
