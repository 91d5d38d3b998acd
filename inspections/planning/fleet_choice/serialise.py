"""A problem and a plan as JSON data and back; equal sets of options are written once."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from inspections.planning.fleet_choice.problem import (
    AreaLimit,
    Candidate,
    Choice,
    Demands,
    Kind,
    Option,
    Problem,
    Year,
)
from inspections.planning.fleet_choice.solving import Plan


def problem_to_dict(problem: Problem) -> dict[str, Any]:
    """Return the problem as dictionaries, lists, texts and whole numbers."""
    sets = {}
    for machine in problem.machines:
        sets.setdefault(machine.options, len(sets))
    return {
        "option_sets": [[_option(option) for option in options] for options in sets],
        "machines": [[m.name, m.area, m.exposure, sets[m.options]] for m in problem.machines],
        "years": [asdict(year) for year in problem.years],
        "areas": {code: asdict(area) for code, area in problem.areas.items()},
        "turns": problem.turns,
        "carries_over": problem.carries_over,
        "demands": asdict(problem.demands) | {"retire": sorted(problem.demands.retire)},
    }


def problem_from_dict(data: Mapping[str, Any]) -> Problem:
    """Return the problem that problem_to_dict wrote."""
    sets = [tuple(_read_option(option) for option in options) for options in data["option_sets"]]
    demands = data["demands"]
    return Problem(
        tuple(Candidate(name, area, exposure, sets[number]) for name, area, exposure, number in data["machines"]),
        tuple(Year(**year) for year in data["years"]),
        {code: AreaLimit(**area) for code, area in data["areas"].items()},
        data["turns"],
        data["carries_over"],
        Demands(demands["replace"], demands["alter"], frozenset(demands["retire"])),
    )


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """Return the plan as dictionaries, lists, texts and whole numbers; the time in milliseconds."""
    return {
        "choices": [[choice.machine, choice.year, *_option(choice.option)] for choice in plan.choices],
        "exposure": plan.exposure,
        "closed": plan.closed,
        "bound": plan.bound,
        "costs": list(plan.costs),
        "milliseconds": round(plan.seconds * 1000),
    }


def plan_from_dict(data: Mapping[str, Any]) -> Plan:
    """Return the plan that plan_to_dict wrote."""
    choices = tuple(Choice(machine, year, _read_option(option)) for machine, year, *option in data["choices"])
    costs, seconds = tuple(data["costs"]), data["milliseconds"] / 1000
    return Plan(choices, data["exposure"], data["closed"], data["bound"], costs, seconds)


def _option(option):
    return [str(option.kind), option.cost, option.minutes, option.closes, list(option.does)]


def _read_option(data):
    kind, cost, minutes, closes, does = data
    return Option(Kind(kind), cost, minutes, closes, tuple(does))
