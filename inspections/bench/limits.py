"""Limits with source, edition and basis, and the choice of the one that applies."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

SEEN = "seen"
FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no source"
LOCAL = "local"
NOT_CONFIRMED = "not confirmed"
BASES = (SEEN, FROM_MEMORY, COMMON_PRACTICE, LOCAL)

FLOOR = 0.8
"""Least probability of conformity of a conditional pass; common practice, no source. A limit may ask for more."""


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
    floor                  least probability of conformity of a conditional pass; below it nothing is decided
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
    floor: float = FLOOR

    def __post_init__(self):
        if self.basis not in BASES:
            raise ValueError(f'Limit {self.rule}: basis "{self.basis}" is not one of {", ".join(BASES)}.')
        if self.lower_si is None and self.upper_si is None:
            raise ValueError(f"Limit {self.rule}: give a lower limit, an upper limit or both.")
        if self.lower_si is not None and self.upper_si is not None and self.lower_si > self.upper_si:
            raise ValueError(f"Limit {self.rule}: the lower limit is above the upper limit.")
        if not 0.5 <= self.floor < 1:
            raise ValueError(f"Limit {self.rule}: the least probability must be 0.5 or more and below 1.")

    @property
    def is_confirmed(self) -> bool | None:
        """Return whether somebody confirmed it for the site, None where that is not stated."""
        return self.confirmation != NOT_CONFIRMED if self.confirmation else None

    @property
    def tolerance_si(self) -> float | None:
        """Return the width between the limits; of a single one its distance from zero, None for zero itself."""
        if self.lower_si is not None and self.upper_si is not None:
            return self.upper_si - self.lower_si
        end = self.upper_si if self.lower_si is None else self.lower_si
        return abs(end) or None

    def is_within(self, other: "Limit") -> bool:
        """Return whether whatever this limit accepts, the other accepts too."""
        lower = other.lower_si is None or (self.lower_si is not None and self.lower_si >= other.lower_si)
        upper = other.upper_si is None or (self.upper_si is not None and self.upper_si <= other.upper_si)
        return lower and upper

    def covers(self, built_year: int | None) -> bool:
        """Return whether the limit applies to a machine of this year of build; of an unknown year it could."""
        if built_year is None:
            return True
        return (self.built_from is None or built_year >= self.built_from) and (
            self.built_before is None or built_year < self.built_before
        )


def choose_limit(
    limits: Sequence[Limit], key: str, *, built_year: int | None = None, rule: str | None = None
) -> Limit | None:
    """Return the limit that judges this result, None if there is none.

    A rule named by code wins whatever the year; else the first limit, in the order listed, that
    covers the year of build. For a machine whose year is not known it is the strictest of those that
    some year would choose. Raises ValueError for a rule that is not among the limits of the key.
    """
    candidates = [limit for limit in limits if limit.key == key]
    if rule is not None:
        for limit in candidates:
            if limit.rule == rule:
                return limit
        known = ", ".join(limit.rule for limit in candidates) or "none"
        raise ValueError(f'There is no rule "{rule}" for "{key}". The rules are: {known}.')
    if built_year is None:
        return _strictest(_of_any_year(candidates))
    return _of_year(candidates, built_year)


def _of_year(candidates: Sequence[Limit], year: int) -> Limit | None:
    return next((limit for limit in candidates if limit.covers(year)), None)


def _of_any_year(candidates: Sequence[Limit]) -> list[Limit]:
    """Return each limit that the candidates give for some year of build."""
    ends = {end for limit in candidates for end in (limit.built_from, limit.built_before) if end is not None}
    years = {year for end in ends for year in (end - 1, end)} or {0}
    return list(dict.fromkeys(limit for year in sorted(years) if (limit := _of_year(candidates, year))))


def _strictest(limits: Sequence[Limit]) -> Limit | None:
    """Return the limit that lies within all others; where none does, what all of them accept."""
    if len(limits) < 2:
        return limits[0] if limits else None
    found = next((one for one in limits if all(one.is_within(other) for other in limits)), None) or _common(limits)
    note = f"{found.note} The year of build is not known: this is the strictest rule that could apply.".strip()
    return replace(found, note=note)


def _common(limits: Sequence[Limit]) -> Limit:
    lower = max((one.lower_si for one in limits if one.lower_si is not None), default=None)
    upper = min((one.upper_si for one in limits if one.upper_si is not None), default=None)
    if lower is not None and upper is not None and lower > upper:
        return limits[-1]  # no machine could meet all of them: the newest rule
    titles = "; and ".join(one.title for one in limits)
    return replace(
        limits[-1], lower_si=lower, upper_si=upper, title=titles, strict=any(one.strict for one in limits),
        floor=max(one.floor for one in limits),
    )  # fmt: skip
