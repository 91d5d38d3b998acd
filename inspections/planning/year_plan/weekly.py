"""Which week each job goes to, as a linear programme over classes of equal jobs and groups of equal technicians.

Days, whole machines and area minimums are left out, so that its optimum is a lower bound of every plan.
"""

from collections import defaultdict
from dataclasses import dataclass

from fleet.late import np, optimize, sparse
from inspections.planning.year_plan.objective import FAIR_WITHIN, UNPLACED, VISIT, WEEK_EARLY, WEEK_LATE
from inspections.planning.year_plan.options import Options

MOST_ROWS = 60_000


@dataclass(frozen=True, slots=True)
class Weeks:
    """The week of each job by its position, None where the bound leaves it out; and the bound of the objective."""

    targets: dict[int, int | None]
    bound: float


class _Groups:
    """Technicians with the same sites and competences, as one."""

    def __init__(self, options: Options):
        members = defaultdict(list)
        for number, one in enumerate(options.problem.technicians):
            members[tuple(sorted(one.sites)), tuple(sorted(one.skills.items(), key=str))].append(number)
        self.members = list(members.values())
        self.of = {number: group for group, numbers in enumerate(self.members) for number in numbers}
        self.longest = [defaultdict(int) for _ in self.members]  # the longest day of anybody, by day
        self.capacity, self.booked = defaultdict(int), [0] * len(self.members)
        self.visits = defaultdict(set)  # (group, week, site) -> visits that booked work makes
        for number, minutes in enumerate(options.minutes):
            for day, length in minutes.items():
                group = self.of[number]
                self.longest[group][day] = max(self.longest[group][day], length)
                self.capacity[group, week_of(day)] += length
        self.hours = [sum(sum(options.minutes[one].values()) for one in numbers) for numbers in self.members]
        self.longest_day = [max(days.values(), default=1) for days in self.longest]
        self._take_booked(options)

    def _take_booked(self, options):
        numbers = {one.key: number for number, one in enumerate(options.problem.technicians)}
        taken = defaultdict(int)
        for work in options.problem.booked:
            if work.technician in numbers:
                number = numbers[work.technician]
                self.booked[self.of[number]] += work.minutes
                taken[number, work.day.toordinal()] += work.minutes
                where = self.of[number], week_of(work.day.toordinal()), work.site
                self.visits[where].add((number, work.day))
        for (number, day), minutes in taken.items():
            there = min(minutes, options.minutes[number].get(day, 0))
            self.capacity[self.of[number], week_of(day)] -= there


def week_of(day: int) -> int:
    """Return the number of the calendar week of the ordinal of a day; Monday begins it."""
    return (day - 1) // 7


def spread_over_weeks(options: Options) -> Weeks:
    """Return the best week of each job and the bound. Deterministic: no limit of time, equal jobs in order of key."""
    groups = _Groups(options)
    classes = _classes(options, groups)
    model = _Model(groups, classes, options.problem.uneven)
    solution, value = model.solve()
    return Weeks(_targets(options, classes, model, solution), value)


def _classes(options, groups):
    """Return jobs by what decides their weeks: site, minutes, week due, and (group, week) at which anybody can."""
    found = defaultdict(list)
    for number, job in enumerate(options.problem.jobs):
        allowed = set()
        for technician, until in options.able(job):
            group = groups.of[technician]
            longest = groups.longest[group]
            allowed |= {
                (group, week_of(day))
                for day in options.days(job)
                if day <= until and longest.get(day, 0) >= job.minutes
            }
        found[job.site, job.minutes, week_of(job.due_on.toordinal()), tuple(sorted(allowed))].append(number)
    return dict(sorted(found.items()))


class _Model:
    """Columns: one for each (class, group, week), what is left out of each class, visits, highest, lowest, excess."""

    def __init__(self, groups, classes, uneven):
        self.uneven = uneven
        self.groups, self.costs, self.lowers, self.uppers, self.columns = groups, [], [], [], []
        self.rows, self.lows, self.highs = [], [], []
        shares, weekly = [[] for _ in groups.members], defaultdict(list)
        at_site = defaultdict(list)  # (group, week, site) -> (column, minutes, jobs)
        for (site, minutes, due, allowed), numbers in classes.items():
            terms = []
            for group, week in allowed:
                column = self._column(_weeks(week - due), upper=len(numbers))
                terms.append((column, 1.0))
                weekly[group, week].append((column, float(minutes)))
                at_site[group, week, site].append((column, minutes, len(numbers)))
                shares[group].append((column, minutes / groups.hours[group]))
            self.columns.append([(week, column) for (_, week), (column, _) in zip(allowed, terms, strict=True)])
            terms.append((self._column(UNPLACED, upper=len(numbers)), 1.0))
            self._row(terms, len(numbers), len(numbers))
        for key, terms in weekly.items():
            self._row(terms, -np.inf, max(0, groups.capacity[key]))
        self._count_visits(at_site)
        self._even(shares)

    def _count_visits(self, at_site):
        """A visit holds the minutes of the longest day, and so many jobs of one class as fit into it.

        The second says more and costs a row for each column, so very large problems go without.
        """
        is_large = sum(map(len, at_site.values())) > MOST_ROWS
        self.constant = VISIT * sum(len(visits) for key, visits in self.groups.visits.items() if key not in at_site)
        for key, jobs in at_site.items():
            longest = self.groups.longest_day[key[0]]
            visits = self._column(VISIT, lower=len(self.groups.visits.get(key, ())), upper=np.inf)
            self._row([*((column, float(minutes)) for column, minutes, _ in jobs), (visits, -longest)], -np.inf, 0.0)
            for column, minutes, number in () if is_large else jobs:
                most = min(number, longest // minutes)
                self._row([(column, 1.0), (visits, -float(most))], -np.inf, 0.0)

    def _even(self, shares):
        high, low, excess = (self._column(cost, upper=np.inf) for cost in (0.0, 0.0, self.uneven))
        for group, terms in enumerate(shares):
            if not self.groups.hours[group]:
                continue
            booked = self.groups.booked[group] / self.groups.hours[group]
            self._row([*terms, (high, -1.0)], -np.inf, -booked)
            self._row([*terms, (low, -1.0)], -booked, np.inf)
        self._row([(high, 1 - FAIR_WITHIN), (low, -1.0), (excess, -1.0)], -np.inf, 0.0)

    def _column(self, cost, *, upper, lower=0.0):
        self.costs.append(cost)
        self.lowers.append(lower)
        self.uppers.append(upper)
        return len(self.costs) - 1

    def _row(self, terms, low, high):
        self.rows.append(terms)
        self.lows.append(low)
        self.highs.append(high)

    def solve(self):
        entries = [(row, column, value) for row, terms in enumerate(self.rows) for column, value in terms]
        row, column, value = (np.array(part) for part in zip(*entries, strict=True))
        matrix = sparse.coo_array((value, (row, column)), shape=(len(self.rows), len(self.costs))).tocsr()
        limits = optimize.LinearConstraint(matrix, self.lows, self.highs)
        found = optimize.milp(self.costs, constraints=limits, bounds=optimize.Bounds(self.lowers, self.uppers))
        if found.x is None:  # cannot happen: leaving everything out is allowed
            raise ArithmeticError(f"the weeks could not be solved: {found.message}")
        return found.x, float(found.fun) + self.constant


def _weeks(late):
    """Return the cost of so many weeks after that of the due date, or before it if negative."""
    return WEEK_LATE * late if late > 0 else -WEEK_EARLY * late


def _targets(options, classes, model, solution):
    """Give each job of a class one of the weeks, the earliest due the earliest."""
    targets = {}
    for numbers, columns in zip(classes.values(), model.columns, strict=True):
        numbers = sorted(numbers, key=lambda one: (options.problem.jobs[one].due_on, options.problem.jobs[one].key))
        amounts = defaultdict(float)
        for week, column in columns:
            amounts[week] += solution[column]
        weeks = sorted((week, amount) for week, amount in amounts.items() if amount > 1e-9)
        reached, place = 0.0, 0
        for week, amount in weeks:
            reached += amount
            while place < len(numbers) and place + 0.5 <= reached + 1e-6:
                targets[numbers[place]] = week
                place += 1
        targets |= dict.fromkeys(numbers[place:])
    return targets
