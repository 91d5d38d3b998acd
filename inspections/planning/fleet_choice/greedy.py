"""The baseline: take what closes the most exposure for its money, one after the other, while the limits hold."""

from collections import Counter

from inspections.planning.fleet_choice.dominance import pruned
from inspections.planning.fleet_choice.problem import Choice, Kind, Problem


def greedy_choices(problem: Problem) -> tuple[Choice, ...]:
    """Return a plan that holds, without any proof: each option in the first year that has room for it.

    Demands for numbers of machines are not looked at.
    """
    room, chosen = _Room(problem), {}
    for machine, option in _by_value(pruned(problem)):
        if machine.name in chosen:
            continue
        year = room.first_year(machine, option)
        if year is not None:
            room.take(machine, option, year)
            chosen[machine.name] = Choice(machine.name, year, option)
    return tuple(chosen.values())


def _by_value(problem):
    """Machines with their options, the most points for the money first."""
    retired = problem.demands.retire
    pairs = [(m, o) for m in problem.machines if m.name not in retired for o in m.options if o.closes]
    return sorted(pairs, key=lambda pair: (-(pair[1].closes / max(1, pair[1].cost)), -pair[1].closes))


class _Room:
    """What is left of every limit."""

    def __init__(self, problem):
        self.problem = problem
        self.money = [year.budget for year in problem.years]
        self.machines = [year.machines for year in problem.years]
        self.minutes = [year.minutes for year in problem.years]
        area_of = {machine.name: machine.area for machine in problem.machines}
        gone = Counter(area_of[name] for name in problem.demands.retire)
        years = range(len(problem.years))
        self.areas = {
            code: [(area.spare - gone[code]) * problem.turns for _ in years] for code, area in problem.areas.items()
        }

    def first_year(self, machine, option):
        return next((n for n in range(len(self.money)) if self._fits(machine, option, n)), None)

    def _fits(self, machine, option, year):
        if option.cost > self._money_in(year) or self.machines[year] == 0:
            return False
        if self.minutes[year] is not None and option.minutes > self.minutes[year]:
            return False
        return all(self.areas[machine.area][n] >= need for n, need in self._needs(machine, option, year))

    def _money_in(self, year):
        """Money that may still be spent in a year; carried over, no later year may lack what this one takes."""
        if not self.problem.carries_over:
            return self.money[year]
        return min(sum(self.money[: n + 1]) for n in range(year, len(self.money)))

    def _needs(self, machine, option, year):
        if machine.area not in self.areas:
            return []
        if option.kind is Kind.ALTER:
            return [(year, 1)]
        if option.kind is Kind.RETIRE:
            return [(n, self.problem.turns) for n in range(year, len(self.money))]
        return []

    def take(self, machine, option, year):
        self.money[year] -= option.cost
        if self.machines[year] is not None:
            self.machines[year] -= 1
        if self.minutes[year] is not None:
            self.minutes[year] -= option.minutes
        for n, need in self._needs(machine, option, year):
            self.areas[machine.area][n] -= need
