"""How much exposure is left for how much money: the same choice for ten yearly sums."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from inspections.planning.fleet_choice.problem import Problem, closed_points, cost_by_year
from inspections.planning.fleet_choice.solving import Plan, choose

QUARTERS = (
    0,
    1,
    2,
    3,
    4,
    5,
    6,
    8,
    12,
    16,
)  # of the sum asked for: nothing, a quarter, ... the sum itself, ... four times


@dataclass(frozen=True, slots=True)
class Point:
    """A yearly sum as a share of the one asked for, and the plan for it."""

    share: Fraction
    budgets: tuple[int, ...]
    plan: Plan


def frontier(
    problem: Problem, *, seconds: float = 50.0, told: Callable[[int, int], None] = lambda done, total: None
) -> tuple[Point, ...]:
    """Return ten points, the least money first. More money never leaves more exposure. Raises CannotBe.

    seconds  for all points together
    told     called with the number of points done and of all
    """
    points: list[Point] = []
    for number, quarters in enumerate(QUARTERS):
        told(number, len(QUARTERS))
        share = Fraction(quarters, 4)
        at = with_share(problem, share)
        plan = choose(at, seconds=seconds / len(QUARTERS))
        if points and points[-1].plan.closed > plan.closed:
            plan = _carried(at, points[-1].plan, plan)
        points.append(Point(share, tuple(year.budget for year in at.years), plan))
    return tuple(points)


def with_share(problem: Problem, share: Fraction) -> Problem:
    """Return the problem with that share of the money of each year, rounded down to a whole unit."""
    return replace(problem, years=tuple(replace(year, budget=int(year.budget * share)) for year in problem.years))


def _carried(problem, earlier, plan):
    """The plan for less money, which holds for more money too, in place of a worse one that ran out of time."""
    closed = closed_points(problem, earlier.choices)
    costs = tuple(cost_by_year(problem, earlier.choices))
    return replace(plan, choices=earlier.choices, closed=closed, bound=max(closed, plan.bound), costs=costs)
