"""Choose for each machine and year what closes the most exposure, with a proof or a stated gap.

The solver (HiGHS through scipy.optimize.milp) works with floating-point numbers; what it finds is checked in whole
numbers, and a plan that breaks a limit by rounding is never returned.
"""

from dataclasses import dataclass, replace
from math import floor, gcd
from time import perf_counter

from inspections.planning.fleet_choice.dominance import pruned
from inspections.planning.fleet_choice.greedy import greedy_choices
from inspections.planning.fleet_choice.model import Model, Row, spare_left
from inspections.planning.fleet_choice.problem import (
    Choice,
    Problem,
    broken_limits,
    closed_points,
    cost_by_year,
)

REPAIRS = 5
SHARE_FOR_COST = 0.3  # of the time, to find the least money for the same exposure
ROUNDING = 1e-3  # points by which the solver's bound may be too low, far above its tolerances
LIMITS = ("money", "machines", "minutes", "areas")


@dataclass(frozen=True, slots=True)
class Plan:
    """A choice for a fleet.

    closed   points over the horizon, of `exposure` in all
    bound    no plan whatever closes more than this
    """

    choices: tuple[Choice, ...]
    exposure: int
    closed: int
    bound: int
    costs: tuple[int, ...]
    seconds: float

    @property
    def left(self) -> int:
        return self.exposure - self.closed

    @property
    def cost(self) -> int:
        return sum(self.costs)

    @property
    def is_proved(self) -> bool:
        """Whether it is proved that no plan closes more."""
        return self.closed >= self.bound

    @property
    def gap(self) -> float:
        """The part of the bound that this plan might fall short by, 0 to 1."""
        return (self.bound - self.closed) / self.bound if self.bound > self.closed else 0.0


class CannotBe(ValueError):
    """No plan meets the demands; `frees` are the limits of LIMITS without any one of which there would be one."""

    def __init__(self, frees):
        self.frees = tuple(frees)
        words = f"without a limit on {' or '.join(self.frees)} there is one" if frees else "no single limit prevents it"
        super().__init__(f"no plan meets the demands; {words}")


def choose(problem: Problem, *, seconds: float = 50.0) -> Plan:
    """Return the plan that closes the most exposure, of those the one that costs least. Raises CannotBe.

    seconds  time for the solver; after it the best plan so far is returned with its gap
    """
    started = perf_counter()
    if any(spare < 0 for spare in spare_left(problem).values()):
        raise CannotBe(("areas",))
    model = Model(pruned(problem))
    negative = [-value for value in model.values]
    first = model.solve(negative, model.rows(), seconds * (1 - SHARE_FOR_COST))
    if first.is_infeasible:
        raise CannotBe(_what_frees(problem))
    best = _sound(model, problem, first, negative, seconds)
    if problem.demands.are_free:
        best = max([best or (), greedy_choices(problem)], key=lambda found: closed_points(problem, found))
    if best is None:
        raise CannotBe(())
    closed = closed_points(problem, best)
    bound = _bound(problem, first, closed, gcd(*model.values) or 1)
    best = _cheapest(model, problem, best, closed, seconds * SHARE_FOR_COST)
    costs = tuple(cost_by_year(problem, best))
    return Plan(best, problem.exposure, closed, bound, costs, perf_counter() - started)


def _bound(problem, solved, closed, step):
    """The most that any plan can close, in whole points; without a bound of the solver, all the exposure.

    Every plan closes a multiple of `step`, so the solver's bound is rounded down to one.
    """
    if solved.bound is None:
        return problem.exposure
    most = closed_points(problem, ()) + floor((ROUNDING - solved.bound) / step) * step
    return max(closed, min(problem.exposure, most))


def _sound(model, problem, solved, objective, seconds):
    """Return the choices of a solution that holds in whole numbers; solve again with less money where it does not."""
    for attempt in range(REPAIRS):
        if solved.counts is None:
            return None
        choices = model.choices(solved.counts)
        if not broken_limits(problem, choices):
            return choices
        solved = model.solve(objective, model.rows(less_money=10**attempt), seconds / REPAIRS)
    return None


def _cheapest(model, problem, best, closed, seconds):
    """Return the choices that close the same for the least money that was found."""
    if not model.columns:
        return best
    retired = closed_points(problem, ())
    same = Row(tuple(enumerate(model.values)), closed - retired, float("inf"))
    found = model.solve(model.costs, [*model.rows(), same], seconds)
    if found.counts is None:
        return best
    choices = model.choices(found.counts)
    is_better = sum(c.option.cost for c in choices) < sum(c.option.cost for c in best)
    if is_better and closed_points(problem, choices) >= closed and not broken_limits(problem, choices):
        return choices
    return best


def _what_frees(problem):
    """Return the limits without any one of which the demands could be met."""
    return [name for name in LIMITS if _is_possible(_without(problem, name))]


def _is_possible(problem):
    model = Model(pruned(problem))
    return not model.solve([0.0] * len(model.columns), model.rows(), 5.0).is_infeasible


def _without(problem, name):
    years = problem.years
    if name == "money":
        enough = sum(max((o.cost for o in m.options), default=0) for m in problem.machines)
        return replace(problem, years=tuple(replace(year, budget=enough) for year in years))
    if name == "areas":
        return replace(problem, areas={})
    return replace(problem, years=tuple(replace(year, **{name: None}) for year in years))
