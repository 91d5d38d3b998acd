"""Keep, alter or replace, for each machine and year, so that a sum closes the most exposure. Plain Python."""

from inspections.planning.fleet_choice.frontier import QUARTERS, Point, frontier, with_share
from inspections.planning.fleet_choice.greedy import greedy_choices
from inspections.planning.fleet_choice.options import options_of
from inspections.planning.fleet_choice.problem import (
    TURNS_A_YEAR,
    AreaLimit,
    Candidate,
    Choice,
    Demands,
    Kind,
    Option,
    Problem,
    Year,
    broken_limits,
    closed_points,
    cost_by_year,
)
from inspections.planning.fleet_choice.serialise import plan_from_dict, plan_to_dict, problem_from_dict, problem_to_dict
from inspections.planning.fleet_choice.solving import CannotBe, Plan, choose

__all__ = [
    "QUARTERS",
    "TURNS_A_YEAR",
    "AreaLimit",
    "Candidate",
    "CannotBe",
    "Choice",
    "Demands",
    "Kind",
    "Option",
    "Plan",
    "Point",
    "Problem",
    "Year",
    "broken_limits",
    "choose",
    "closed_points",
    "cost_by_year",
    "frontier",
    "greedy_choices",
    "options_of",
    "plan_from_dict",
    "plan_to_dict",
    "problem_from_dict",
    "problem_to_dict",
    "with_share",
]
