"""What a choice for a fleet is made from: machines with their options, years with their limits, areas, demands.

Money is a whole number of the smallest unit of one currency, exposure a whole number of points (tenths of a severity
weight), work a whole number of minutes: sums of them are exact.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

TURNS_A_YEAR = 12  # machines of an area that can be away one after the other in one year; common practice, no source


class Kind(StrEnum):
    """What is done to a machine; `keep` is what is left when nothing is chosen."""

    ALTER = "alter"
    REPLACE = "replace"
    RETIRE = "retire"


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that can be done to a machine, once within the horizon.

    cost     in the smallest unit of the currency, >= 0
    minutes  work of the department's own technicians, >= 0
    closes   points of exposure that it closes in each year, >= 0
    does     codes of what it alters; empty for another kind
    """

    kind: Kind
    cost: int
    minutes: int
    closes: int
    does: tuple[str, ...] = ()

    def __post_init__(self):
        if min(self.cost, self.minutes, self.closes) < 0:
            raise ValueError(f"an option has nothing negative, got {self}")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A machine of which something may be chosen: its exposure in points for each year, its options."""

    name: str
    area: str
    exposure: int
    options: tuple[Option, ...] = ()

    def __post_init__(self):
        if any(option.closes > self.exposure for option in self.options):
            raise ValueError(f"{self.name} has an option that closes more than its exposure, {self.exposure}")


@dataclass(frozen=True, slots=True)
class Year:
    """The limits of one year: money, machines touched, minutes of work. None: no limit."""

    budget: int
    machines: int | None = None
    minutes: int | None = None


@dataclass(frozen=True, slots=True)
class AreaLimit:
    """An area: how many machines are in service there, and how many there must be."""

    in_service: int
    minimum: int = 0

    @property
    def spare(self) -> int:
        return max(0, self.in_service - self.minimum)


@dataclass(frozen=True, slots=True)
class Demands:
    """What is asked for beside: how many machines to replace and to alter, which to retire. None: free."""

    replace: int | None = None
    alter: int | None = None
    retire: frozenset[str] = frozenset()

    @property
    def are_free(self) -> bool:
        return self.replace is None and self.alter is None


@dataclass(frozen=True, slots=True)
class Problem:
    """All that a choice rests on.

    machines      the order decides between machines that are alike: the first is chosen first
    years         what is done in a year counts for the whole of it and for each year after it
    areas         by code; a machine of an area that is not listed has no limit there
    turns         how many machines one spare machine stands in for within a year
    carries_over  whether money that is left in a year is there in the next
    """

    machines: tuple[Candidate, ...]
    years: tuple[Year, ...]
    areas: Mapping[str, AreaLimit] = field(default_factory=dict)
    turns: int = TURNS_A_YEAR
    carries_over: bool = False
    demands: Demands = Demands()

    def __post_init__(self):
        names = {machine.name for machine in self.machines}
        if len(names) < len(self.machines):
            raise ValueError("two machines have one name; each needs a name of its own")
        if not self.years or self.turns < 1:
            raise ValueError(f"a choice needs a year and a turn at least, got {len(self.years)} and {self.turns}")
        if missing := self.demands.retire - names:
            raise ValueError(f"to retire are machines that are not there: {', '.join(sorted(missing))}")

    @property
    def exposure(self) -> int:
        """Points of exposure over the horizon if nothing is done."""
        return sum(machine.exposure for machine in self.machines) * len(self.years)

    def counted_years(self, year: int) -> int:
        """Return for how many years counts what is done in a year; 0 is the first."""
        return len(self.years) - year


@dataclass(frozen=True, slots=True)
class Choice:
    """What is done to a machine, and in which year (0 is the first)."""

    machine: str
    year: int
    option: Option


def money_through(problem: Problem, costs: Sequence[int]) -> list[tuple[int, int]]:
    """Return for each year (spent, allowed), added up from the first year where money is carried over."""
    budgets = [year.budget for year in problem.years]
    if not problem.carries_over:
        return list(zip(costs, budgets, strict=True))
    return [(sum(costs[: n + 1]), sum(budgets[: n + 1])) for n in range(len(budgets))]


def closed_points(problem: Problem, choices: Sequence[Choice]) -> int:
    """Return the points that choices close over the horizon, with those of the machines that are to be retired."""
    retired = sum(m.exposure for m in problem.machines if m.name in problem.demands.retire) * len(problem.years)
    return retired + sum(choice.option.closes * problem.counted_years(choice.year) for choice in choices)


def cost_by_year(problem: Problem, choices: Sequence[Choice]) -> list[int]:
    return [sum(c.option.cost for c in choices if c.year == n) for n in range(len(problem.years))]


def broken_limits(problem: Problem, choices: Sequence[Choice]) -> list[str]:
    """Return every limit that choices break, in words, by exact sums. Empty for a plan that holds."""
    found = []
    for number, (spent, allowed) in enumerate(money_through(problem, cost_by_year(problem, choices)), start=1):
        if spent > allowed:
            found.append(f"year {number}: {spent} spent, {allowed} allowed")
    for number, year in enumerate(problem.years):
        there = [choice for choice in choices if choice.year == number]
        if year.machines is not None and len(there) > year.machines:
            found.append(f"year {number + 1}: {len(there)} machines, {year.machines} allowed")
        minutes = sum(choice.option.minutes for choice in there)
        if year.minutes is not None and minutes > year.minutes:
            found.append(f"year {number + 1}: {minutes} minutes, {year.minutes} allowed")
    return found + _broken_areas(problem, choices) + _broken_demands(problem, choices)


def _broken_areas(problem, choices):
    area_of = {machine.name: machine.area for machine in problem.machines}
    forced = Counter(area_of[name] for name in problem.demands.retire)
    kinds = Counter((area_of[c.machine], c.option.kind, c.year) for c in choices)
    found = []
    for code, area in problem.areas.items():
        gone = forced[code]
        for number in range(len(problem.years)):
            gone += kinds[code, Kind.RETIRE, number]
            away = kinds[code, Kind.ALTER, number]
            if away + gone * problem.turns > area.spare * problem.turns:
                found.append(f"{code}, year {number + 1}: {gone} retired and {away} away, {area.spare} to spare")
    return found


def _broken_demands(problem, choices):
    names = [choice.machine for choice in choices]
    found = [f"{name} is chosen twice" for name, number in Counter(names).items() if number > 1]
    found += [f"{name} is retired and chosen" for name in set(names) & problem.demands.retire]
    for kind, wanted in ((Kind.REPLACE, problem.demands.replace), (Kind.ALTER, problem.demands.alter)):
        number = sum(choice.option.kind is kind for choice in choices)
        if wanted is not None and number != wanted:
            found.append(f"{number} machines to {kind}, {wanted} wanted")
    return found
