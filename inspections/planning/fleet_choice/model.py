"""The choice as a mixed-integer programme. Machines that are alike are one integer variable for each option and year.

maximise    sum of n(group, option, year) x closes x years that count
subject to  at most all machines of a group; money, machines and minutes of each year; in each area and year
            away + turns x retired so far <= turns x spare; the numbers of machines that are asked for
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from fleet.late import np, optimize, sparse
from inspections.planning.fleet_choice.problem import Choice, Kind, Option, Problem

LARGEST_COEFFICIENT = 1000.0  # a row is scaled to it, so that the tolerances of the solver mean the same in each


@dataclass(frozen=True, slots=True)
class Group:
    """Machines with one set of options, of one area where that matters; names in the order of the problem."""

    area: str
    options: tuple[Option, ...]
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """How many machines of a group have an option in a year."""

    group: int
    option: Option
    year: int


@dataclass(frozen=True, slots=True)
class Row:
    """One limit: coefficients by column, at least `low` and at most `high`."""

    terms: tuple[tuple[int, int], ...]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Solved:
    """What the solver found: counts by column (None: nothing), and a bound on every solution (None: none known)."""

    counts: np.ndarray | None
    bound: float | None
    is_infeasible: bool


class Model:
    """The programme of a problem whose dominated options are gone."""

    def __init__(self, problem: Problem):
        self.problem = problem
        self.groups = _groups(problem)
        years = range(len(problem.years))
        self.columns = [
            Column(n, option, year) for n, group in enumerate(self.groups) for option in group.options for year in years
        ]
        self.values = [c.option.closes * problem.counted_years(c.year) for c in self.columns]
        self.costs = [c.option.cost for c in self.columns]
        self.upper = [len(self.groups[c.group].names) for c in self.columns]

    def rows(self, less_money: int = 0) -> list[Row]:
        """Return every limit; `less_money` narrows each year's money, to repair a solution that rounding broke."""
        rows = [*self._group_rows(), *self._money_rows(less_money), *self._count_rows(), *self._demand_rows()]
        return [*rows, *self._area_rows()]

    def solve(self, objective, rows, seconds: float) -> Solved:
        """Return what minimises the objective within the time."""
        if any(not row.terms and not row.low <= 0 <= row.high for row in rows):
            return Solved(None, None, True)
        if not self.columns:
            return Solved(np.zeros(0, dtype=int), 0.0, False)
        found = optimize.milp(
            np.array(objective, dtype=float),
            integrality=np.ones(len(self.columns)),
            bounds=optimize.Bounds(0, np.array(self.upper, dtype=float)),
            constraints=_constraints(rows, len(self.columns)),
            options={"time_limit": max(0.05, seconds), "mip_rel_gap": 0.0},
        )
        counts = None if found.x is None else np.rint(found.x).astype(int)
        bound = getattr(found, "mip_dual_bound", None)
        return Solved(counts, None if bound is None or not np.isfinite(bound) else float(bound), found.status == 2)

    def choices(self, counts) -> tuple[Choice, ...]:
        """Return the choices of a solution: of machines that are alike, the first of the problem go first."""
        waiting = [list(group.names) for group in self.groups]
        taken = sorted((c.year, -c.option.closes, c.option.cost, n) for n, c in enumerate(self.columns) if counts[n])
        return tuple(
            Choice(waiting[self.columns[n].group].pop(0), self.columns[n].year, self.columns[n].option)
            for *_, n in taken
            for _ in range(counts[n])
        )

    def _group_rows(self):
        terms = defaultdict(list)
        for n, column in enumerate(self.columns):
            terms[column.group].append((n, 1))
        return [Row(tuple(found), 0, len(self.groups[group].names)) for group, found in terms.items()]

    def _money_rows(self, less):
        allowed, rows = 0, []
        for number, year in enumerate(self.problem.years):
            first = 0 if self.problem.carries_over else number
            allowed = year.budget + (allowed if self.problem.carries_over else 0)
            terms = tuple((n, c.option.cost) for n, c in enumerate(self.columns) if first <= c.year <= number)
            rows.append(Row(terms, 0, allowed - less))
        return rows

    def _count_rows(self):
        rows = []
        for number, year in enumerate(self.problem.years):
            there = [(n, column) for n, column in enumerate(self.columns) if column.year == number]
            if year.machines is not None:
                rows.append(Row(tuple((n, 1) for n, _ in there), 0, year.machines))
            if year.minutes is not None:
                rows.append(Row(tuple((n, c.option.minutes) for n, c in there), 0, year.minutes))
        return rows

    def _demand_rows(self):
        demands, rows = self.problem.demands, []
        for kind, wanted in ((Kind.REPLACE, demands.replace), (Kind.ALTER, demands.alter)):
            if wanted is not None:
                terms = tuple((n, 1) for n, c in enumerate(self.columns) if c.option.kind is kind)
                rows.append(Row(terms, wanted, wanted))
        return rows

    def _area_rows(self):
        by_area = defaultdict(list)
        for n, column in enumerate(self.columns):
            by_area[self.groups[column.group].area].append((n, column))
        left = spare_left(self.problem)
        turns, years = self.problem.turns, range(len(self.problem.years))
        return [
            Row(tuple(_away(by_area[code], year, turns)), 0, spare * turns)
            for code, spare in left.items()
            if code in by_area
            for year in years
        ]


def _away(columns, year, turns):
    for n, column in columns:
        if column.option.kind is Kind.ALTER and column.year == year:
            yield n, 1
        elif column.option.kind is Kind.RETIRE and column.year <= year:
            yield n, turns


def spare_left(problem: Problem) -> dict[str, int]:
    """Spare machines of each area after those that are to be retired have gone."""
    area_of = {machine.name: machine.area for machine in problem.machines}
    gone = Counter(area_of[name] for name in problem.demands.retire)
    return {code: area.spare - gone[code] for code, area in problem.areas.items()}


def _groups(problem):
    named, left = defaultdict(list), spare_left(problem)
    need = _most_needed(problem)
    crowded = {code for code, spare in left.items() if need[code] > spare * problem.turns}
    for machine in problem.machines:
        if machine.options and machine.name not in problem.demands.retire:
            area = machine.area if machine.area in crowded else ""
            named[area, machine.options].append(machine.name)
    return [Group(area, options, tuple(names)) for (area, options), names in named.items()]


def _most_needed(problem):
    """What the machines of each area could need of its spare ones at most; where that is there, no row is needed."""
    need = Counter()
    for machine in problem.machines:
        if machine.name not in problem.demands.retire:
            kinds = {option.kind for option in machine.options}
            need[machine.area] += problem.turns if Kind.RETIRE in kinds else Kind.ALTER in kinds
    return need


def _constraints(rows, width):
    kept = [row for row in rows if row.terms]
    scales = [LARGEST_COEFFICIENT / max(1, max(abs(value) for _, value in row.terms)) for row in kept]
    cells = [(n, column, value * scales[n]) for n, row in enumerate(kept) for column, value in row.terms]
    numbers, columns, values = zip(*cells, strict=True)
    matrix = sparse.coo_array((values, (numbers, columns)), shape=(len(kept), width)).tocsr()
    low = [row.low * scale for row, scale in zip(kept, scales, strict=True)]
    high = [row.high * scale for row, scale in zip(kept, scales, strict=True)]
    return optimize.LinearConstraint(matrix, low, high)
