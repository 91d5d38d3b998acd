"""Limits with source, edition and basis, and the choice of the one that applies."""

from collections.abc import Sequence
from dataclasses import dataclass, field

SEEN = "seen"
FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no source"
LOCAL = "local"
NOT_CONFIRMED = "not confirmed"
BASES = (SEEN, FROM_MEMORY, COMMON_PRACTICE, LOCAL)


@dataclass(frozen=True, slots=True)
class Limit:
    """One published or local limit for one result.

    key                    the result it judges
    rule                   code by which the rule is named on the record
    lower_si, upper_si     tolerance limits in SI (pressures gauge), None where there is none
    unit                   the unit to show it in
    source, edition        where it is printed, and which edition
    basis                  "seen", "from memory", "common practice, no source" or "local"
    confirmation           who confirmed it for the site, by which edition, on which day; NOT_CONFIRMED if nobody did;
                           empty where it is not stated, as in records from before confirmations
    built_from, built_before  machines built in these years: from (inclusive), before (exclusive)
    strict                 True where the limit itself is already outside ("more than 90 %")
    """

    key: str
    rule: str
    title: str
    lower_si: float | None
    upper_si: float | None
    unit: str
    source: str
    edition: str
    basis: str
    confirmation: str = field(default="", kw_only=True)
    built_from: int | None = None
    built_before: int | None = None
    note: str = ""
    strict: bool = False

    def __post_init__(self):
        if self.basis not in BASES:
            raise ValueError(f'Limit {self.rule}: basis "{self.basis}" is not one of {", ".join(BASES)}.')
        if self.lower_si is None and self.upper_si is None:
            raise ValueError(f"Limit {self.rule}: give a lower limit, an upper limit or both.")
        if self.lower_si is not None and self.upper_si is not None and self.lower_si > self.upper_si:
            raise ValueError(f"Limit {self.rule}: the lower limit is above the upper limit.")

    @property
    def is_confirmed(self) -> bool | None:
        """Return whether somebody confirmed it for the site, None where that is not stated."""
        return self.confirmation != NOT_CONFIRMED if self.confirmation else None

    def covers(self, built_year: int | None) -> bool:
        """Return whether the limit applies to a machine of this year of build.

        A machine whose year is not known is judged by limits that are still in force for new machines.
        """
        if built_year is None:
            return self.built_before is None
        return (self.built_from is None or built_year >= self.built_from) and (
            self.built_before is None or built_year < self.built_before
        )


def choose_limit(
    limits: Sequence[Limit], key: str, *, built_year: int | None = None, rule: str | None = None
) -> Limit | None:
    """Return the limit that judges this result, None if there is none.

    A rule named by code wins whatever the year; else the first limit, in the order listed, that
    covers the year of build. Raises ValueError for a rule that is not among the limits of the key.
    """
    candidates = [limit for limit in limits if limit.key == key]
    if rule is not None:
        for limit in candidates:
            if limit.rule == rule:
                return limit
        known = ", ".join(limit.rule for limit in candidates) or "none"
        raise ValueError(f'There is no rule "{rule}" for "{key}". The rules are: {known}.')
    return next((limit for limit in candidates if limit.covers(built_year)), None)
