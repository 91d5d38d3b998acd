"""Options that can never be the better ones are left out before anything is solved."""

from collections.abc import Iterable
from dataclasses import replace

from inspections.planning.fleet_choice.problem import Kind, Option, Problem


def dominates(one: Option, other: Option) -> bool:
    """Return whether an option is at least as good as another in everything, and better in something.

    An alteration needs a machine of the area to stand in, and retiring takes one away for good, so neither dominates
    an option that needs less of the area.
    """
    pairs = list(zip(_figures(one), _figures(other), strict=True))
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


AREA_NEED = {Kind.REPLACE: 0, Kind.ALTER: 1, Kind.RETIRE: 2}


def undominated(options: Iterable[Option], *, within_kind: bool) -> tuple[Option, ...]:
    """Return the options that no other dominates, of equal ones the first.

    within_kind  compare only options of one kind, and keep those that close nothing, because a number of machines of
                 a kind is asked for
    """
    distinct = {}
    for option in options:
        if option.closes or within_kind:
            distinct.setdefault((option.kind, option.cost, option.minutes, option.closes), option)
    kept: list[Option] = []
    # What dominates an option comes before it in this order, and is kept or dominated by something that is.
    for option in sorted(distinct.values(), key=_figures):
        rivals = (other for other in kept if not within_kind or other.kind is option.kind)
        if not any(dominates(other, option) for other in rivals):
            kept.append(option)
    return tuple(kept)


def _figures(option):
    return option.cost, option.minutes, AREA_NEED[option.kind], -option.closes


def pruned(problem: Problem) -> Problem:
    """Return the problem without dominated options, and without those that its areas cannot bear at all."""
    within_kind, made = not problem.demands.are_free, {}

    def keep(machine):
        key = (machine.area, machine.options)
        if key not in made:
            made[key] = undominated(_bearable(problem, machine), within_kind=within_kind)
        return replace(machine, options=made[key])

    return replace(problem, machines=tuple(keep(machine) for machine in problem.machines))


def _bearable(problem, machine):
    area = problem.areas.get(machine.area)
    most = max(year.budget for year in problem.years) if not problem.carries_over else _all_money(problem)
    affordable = [option for option in machine.options if option.cost <= most]
    if area is None or area.spare > 0:
        return affordable
    return [option for option in affordable if option.kind is Kind.REPLACE]


def _all_money(problem):
    return sum(year.budget for year in problem.years)
