"""Days as places write them, and what can be read as a day: the place's own style, a month in letters, or ISO 8601."""

import re
from dataclasses import dataclass
from datetime import date

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ISO = re.compile(r"(?P<year>[0-9]{4})-(?P<month>[0-9]{2})-(?P<day>[0-9]{2})")
DAY_FIRST = re.compile(r"(?P<day>[0-9]{1,2}) +(?P<name>[A-Za-z]{3,9})\.? +(?P<year>[0-9]{4})")
MONTH_FIRST = re.compile(r"(?P<name>[A-Za-z]{3,9})\.? +(?P<day>[0-9]{1,2}),? +(?P<year>[0-9]{4})")
FULL_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DayStyle:
    """One way to write a day. `pattern` and `short` (without the year) use the letters of Django's date filter."""

    code: str
    pattern: str
    short: str
    digits: re.Pattern | None = None


def _digits(*order: str, sign: str) -> re.Pattern:
    shapes = {"day": "(?P<day>[0-9]{1,2})", "month": "(?P<month>[0-9]{1,2})", "year": "(?P<year>[0-9]{4})"}
    return re.compile(re.escape(sign).join(shapes[name] for name in order))


DEFAULT_STYLE = "D MMM YYYY"
DAY_STYLES = {
    style.code: style
    for style in (
        DayStyle(DEFAULT_STYLE, "j M Y", "j M"),
        DayStyle("DD/MM/YYYY", "d/m/Y", "d/m", _digits("day", "month", "year", sign="/")),
        DayStyle("DD.MM.YYYY", "d.m.Y", "d.m.", _digits("day", "month", "year", sign=".")),
        DayStyle("MM/DD/YYYY", "m/d/Y", "m/d", _digits("month", "day", "year", sign="/")),
        DayStyle("MMM D, YYYY", "M j, Y", "M j"),
        DayStyle("YYYY-MM-DD", "Y-m-d", "m-d"),
    )
}
LETTERS = {
    "j": lambda day: str(day.day),
    "d": lambda day: f"{day.day:02}",
    "m": lambda day: f"{day.month:02}",
    "M": lambda day: MONTHS[day.month - 1],
    "Y": lambda day: f"{day.year:04}",
}


def day_text(day: date, style: str = DEFAULT_STYLE) -> str:
    """Return a day in a style of DAY_STYLES, such as "2 Nov 2026"."""
    return _written(day, DAY_STYLES[style].pattern)


def short_day_text(day: date, style: str = DEFAULT_STYLE) -> str:
    """Return a day without its year in a style of DAY_STYLES, such as "2 Nov"."""
    return _written(day, DAY_STYLES[style].short)


def _written(day: date, pattern: str) -> str:
    return "".join(LETTERS[sign](day) if sign in LETTERS else sign for sign in pattern)


def read_written_day(text: str, style: str = DEFAULT_STYLE) -> date:
    """Return the day that a text writes in the style of the place, with its month in letters, or as YYYY-MM-DD.

    Raises ValueError with a sentence for everything else: 03/04/2026 is a day only where the place writes days so.
    """
    text = " ".join(text.split())
    shapes = (ISO, DAY_FIRST, MONTH_FIRST, DAY_STYLES[style].digits)
    found = next((found for shape in shapes if shape and (found := shape.fullmatch(text))), None)
    try:
        if found is None:
            raise ValueError
        return date(int(found["year"]), _month(found.groupdict()), int(found["day"]))
    except ValueError:
        example = day_text(date(2019, 3, 31), style)
        raise ValueError(f"“{text[:40]}” is not a date. Write it as {example} or as 2019-03-31.") from None


def _month(found: dict) -> int:
    if "month" in found:
        return int(found["month"])
    name = found["name"].lower()
    for number, full in enumerate(FULL_MONTHS, start=1):
        if name in (full, full[:3]):
            return number
    raise ValueError
