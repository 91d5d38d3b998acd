"""Who reports a serious incident to whom, and until which day. Plain Python; the facts are in report_rules.toml."""

import tomllib
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

FILE = Path(__file__).with_name("report_rules.toml")
SATURDAY = 5
UNITS = ("days", "work days")


@dataclass(frozen=True, slots=True)
class ReportRule:
    """`within` is None where the source that was read names no time."""

    jurisdiction: str
    event: str
    who: str
    to: str
    source: str
    basis: str
    within: int | None = None
    unit: str = ""
    note: str = ""

    def last_day(self, first: date) -> date | None:
        """Return the last day for an incident known on `first`, which is not counted; public holidays are."""
        if self.within is None:
            return None
        return _after(first, self.within) if self.unit == "work days" else first + timedelta(days=self.within)


@dataclass(frozen=True, slots=True)
class Clock:
    rule: ReportRule
    last_day: date | None
    days_left: int | None

    @property
    def is_over(self):
        return self.days_left is not None and self.days_left < 0


def clocks(jurisdiction: str, first: date, today: date) -> list[Clock]:
    """Return the rules of a jurisdiction, of all where none is chosen, each with what is left; the shortest first."""
    found = []
    for rule in REPORT_RULES:
        if jurisdiction in ("", rule.jurisdiction):
            last = rule.last_day(first)
            found.append(Clock(rule, last, None if last is None else (last - today).days))
    return sorted(found, key=lambda one: (one.last_day is None, one.last_day or first))


def _after(day, work_days):
    while work_days:
        day += timedelta(days=1)
        work_days -= day.weekday() < SATURDAY
    return day


def _read():
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


_DATA = _read()
JURISDICTIONS = {one["code"]: one["name"] for one in _DATA["jurisdiction"]}
REPORT_RULES = tuple(ReportRule(**one) for one in _DATA["rule"])
UNTOUCHED = tuple(_DATA["untouched"])
UNTOUCHED_SOURCE = _DATA["untouched_source"]
