"""The rules of retention as data. Plain Python; the facts are in rules.toml."""

import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path

FILE = Path(__file__).with_name("rules.toml")
EVENTS = {
    "retired": "after the machine was retired",
    "instrument retired": "after the last valid day of a calibration of a retired instrument",
    "closed": "after the notice was closed",
    "replaced": "after a later version began",
    "never": "never removed by Bobbin",
}


@dataclass(frozen=True, slots=True)
class RetentionRule:
    """One line; see the head of rules.toml."""

    code: str
    title: str
    subjects: tuple[str, ...]
    years: int
    event: str
    source: str
    basis: str
    note: str = ""

    @property
    def is_removable(self) -> bool:
        return bool(self.subjects)

    @property
    def words(self) -> str:
        """Return “11 years after the machine was retired”."""
        return f"{self.years} years {EVENTS[self.event]}" if self.is_removable else EVENTS[self.event]

    def last_event(self, today: date) -> date:
        """Return the day on which, or before which, the event must have been for the period to be over today."""
        try:
            return today.replace(year=today.year - self.years)
        except ValueError:  # 29 February
            return today.replace(year=today.year - self.years, day=28)


def read_rules(text: str) -> tuple[RetentionRule, ...]:
    """Return the rules of a TOML text. Raise ValueError for an event that is not known, or a subject named twice."""
    rules = tuple(RetentionRule(**{**one, "subjects": tuple(one["subjects"])}) for one in tomllib.loads(text)["rule"])
    for rule in rules:
        if rule.event not in EVENTS or (rule.event == "never") == rule.is_removable:
            raise ValueError(f"Rule “{rule.code}”: “{rule.event}” does not fit. Accepted: {', '.join(EVENTS)}.")
    named = [subject for rule in rules for subject in rule.subjects]
    if len(set(named)) != len(named):
        raise ValueError(f"Two rules name the same subject: {', '.join(sorted(named))}.")
    return rules


RULES = read_rules(FILE.read_text(encoding="utf-8"))
RULE_OF = {subject: rule for rule in RULES for subject in rule.subjects}
