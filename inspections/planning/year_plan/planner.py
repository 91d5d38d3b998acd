"""From a Problem to a plan."""

from dataclasses import dataclass
from datetime import date

from fleet.work_progress import Tell, tell_nobody
from inspections.planning.year_plan.exact import is_small, place_exactly
from inspections.planning.year_plan.improving import improve
from inspections.planning.year_plan.inputs import Problem
from inspections.planning.year_plan.options import Options
from inspections.planning.year_plan.placing import place_by_weeks
from inspections.planning.year_plan.reasons import Unplaced, explain
from inspections.planning.year_plan.state import State
from inspections.planning.year_plan.weekly import spread_over_weeks


@dataclass(frozen=True, slots=True)
class Placement:
    """A job with its technician, by their keys, and its day."""

    job: int
    technician: int
    day: date


@dataclass(frozen=True, slots=True)
class YearPlan:
    """What a plan places, what it cannot, and how good it is.

    objective  see objective.py
    bound      no plan of the problem has a smaller objective
    is_exact   whether it was solved as one programme
    """

    placements: tuple[Placement, ...]
    unplaced: tuple[Unplaced, ...]
    objective: float
    bound: float
    is_exact: bool

    @property
    def gap(self) -> float:
        """The share by which the objective may be above the smallest possible one, 0 to 1."""
        return max(0.0, self.objective - self.bound) / self.objective if self.objective > 0 else 0.0


def plan_year(problem: Problem, tell: Tell = tell_nobody) -> YearPlan:
    """Return a plan that keeps every hard rule; the same problem always gives the same plan.

    tell  function of what is done, its total and words
    """
    state = State(Options(problem))
    bound = place_exactly(state) if problem.jobs and is_small(state) else None
    is_exact = bound is not None
    if not is_exact and problem.jobs:
        bound = _plan_by_weeks(state, tell)
    unplaced = tuple(explain(state, number) for number in range(len(state.jobs)) if number not in state.placed)
    objective = state.cost()
    return YearPlan(_placements(state), unplaced, objective, objective if bound is None else bound, is_exact)


def _plan_by_weeks(state, tell):
    tell(0, len(state.jobs), "Spreading inspections over the weeks")
    weeks = spread_over_weeks(state.options)
    place_by_weeks(state, weeks.targets, tell)
    improve(state, tell)
    return weeks.bound


def _placements(state):
    people = state.options.problem.technicians
    return tuple(
        Placement(state.jobs[number].key, people[technician].key, date.fromordinal(day))
        for number, (technician, day) in sorted(state.placed.items())
    )
