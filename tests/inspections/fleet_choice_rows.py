"""A stored choice for the fleet and weights of a site, for tests that need one to look at."""

from decimal import Decimal

from inspections.actions import store_fleet_choice, weigh_review
from inspections.jobs.fleet_choice import compute
from inspections.planning.fleet_choice import (
    AreaLimit,
    Candidate,
    Kind,
    Option,
    Problem,
    Year,
    problem_to_dict,
)
from inspections.retirement.fleet_problem import Asked, Gathered
from inspections.review import DEFAULT_WEIGHTS, HAZARD_WEIGHTS
from tests.factories import NOON

OPTIONS = (Option(Kind.ALTER, 90_000, 90, 80, ("o2-analyser",)), Option(Kind.REPLACE, 4_800_000, 0, 180))


def make_problem(names, budget=5_000_000):
    machines = tuple(Candidate(name, "1", 180, OPTIONS) for name in names)
    return Problem(machines, (Year(budget),) * 3, {"1": AreaLimit(len(names), 0)})


def make_fleet_choice(machine, person, title="Board of March", **asked):
    """A choice for the site of a machine, computed for two invented prices."""
    problem = make_problem([machine.asset_number])
    about = [1, str(machine.model), f"{machine.area.name}, {machine.site.name}", "obsolete"]
    unknown = [("A price is not known.", 3)]
    gathered = Gathered(
        problem, None, {machine.asset_number: about}, unknown, [f"{machine.site}: the default weights."]
    )
    asked = {"title": title, "currency": "EUR", "yearly": "50000", "site": machine.site.pk, **asked}
    return store_fleet_choice(
        title=title,
        site=machine.site,
        currency="EUR",
        asked=vars_of(Asked(**asked)),
        inputs=problem_to_dict(problem),
        result=compute(gathered, told=lambda done, words: None),
        by=person,
        at=NOON,
    )


def vars_of(asked):
    return {name: getattr(asked, name) for name in asked.__dataclass_fields__}


def make_review_weights(site, person, reason="Decided by the board", **hazards):
    """Weights of a site that differ from the default in those that are named, with underscores for hyphens."""
    named = {code.replace("_", "-"): Decimal(value) for code, value in hazards.items()}
    weights = {code: Decimal(f"{value:g}") for code, value in HAZARD_WEIGHTS.items()}
    burden = {code: Decimal(f"{value:g}") for code, value in DEFAULT_WEIGHTS.items()}
    return weigh_review(site, hazards=weights | named, burden=burden, reason=reason, by=person, at=NOON)
