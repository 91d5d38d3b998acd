"""When a component that has a life is due for replacement. Plain Python."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from dateutil.relativedelta import relativedelta

LAST_DAY = date(9000, 1, 1)


class Basis(StrEnum):
    """What a due date rests on."""

    DATE = "date fitted"
    METER = "meter reading"
    ESTIMATE = "estimated from the meter reading"
    UNDECIDED = "cannot be decided: no meter reading"


@dataclass(frozen=True, slots=True)
class PartDue:
    """The day on which a component is due; None where it cannot be said."""

    on: date | None
    basis: Basis
    words: str


def due_of(fitted_on: date, life: int, unit: str, used: int | None = None, read_on: date | None = None) -> PartDue:
    """Return when a component is due.

    life, unit     its life in "months" since it was fitted, or in "hours" or "cycles" of use
    used, read_on  hours or cycles since it was fitted, as its meter showed on a day; None without a reading

    A life in months gives a day. One in hours or cycles needs a reading: a life that is used up is due on the day of
    the reading; otherwise the day is estimated from the use per day since it was fitted, and none is given without use.
    """
    if unit == "months":
        return PartDue(fitted_on + relativedelta(months=life), Basis.DATE, f"{life} months after it was fitted")
    if used is None or read_on is None:
        return PartDue(None, Basis.UNDECIDED, f"life of {life} {unit}, no meter reading entered")
    words = f"{used} of {life} {unit} on {read_on.isoformat()}"
    if used >= life:
        return PartDue(read_on, Basis.METER, words)
    days = (read_on - fitted_on).days
    if used == 0 or days <= 0:
        return PartDue(None, Basis.METER, f"{words}; the use per day is not known yet")
    left = (life - used) * days // used
    on = read_on + timedelta(days=min(left, (LAST_DAY - read_on).days))
    return PartDue(on, Basis.ESTIMATE, f"{words} in {days} days")


def last_fitted_due(by: date, months: int) -> date:
    """Return the last day on which a component can have been fitted that is due after `months` on `by` or earlier."""
    day = by - relativedelta(months=months)
    while (day + timedelta(days=1)) + relativedelta(months=months) <= by:
        day += timedelta(days=1)
    return day
