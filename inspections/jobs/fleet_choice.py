"""What a sum can close, computed in the background and stored with all its inputs."""

from dataclasses import asdict

from django.db import transaction
from django.utils import timezone

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.models import Site
from fleet.web.at_site import as_shown_to
from inspections.actions import store_fleet_choice
from inspections.errors import Refused
from inspections.planning.fleet_choice import (
    CannotBe,
    choose,
    closed_points,
    cost_by_year,
    frontier,
    greedy_choices,
    plan_to_dict,
    problem_to_dict,
)
from inspections.retirement.fleet_problem import Asked, gather

FLEET_CHOICE = "fleet-choice"
SECONDS_PLAN, SECONDS_FRONTIER = 25.0, 25.0
STEPS = 13  # gathering, two plans, ten points of the frontier
WHAT_FREES = {
    "money": "the yearly sum",
    "machines": "the number of machines a year",
    "minutes": "the hours of technicians",
    "areas": "the minimum of an area",
}


def request_fleet_choice(asked, *, by, at):
    """Request the computation of a choice; return the job."""
    return request_job(FLEET_CHOICE, title=f"What a sum can close: {asked.title}", params=asdict(asked), by=by, at=at)


@job_kind(FLEET_CHOICE, "What a sum can close", permission="inspections.choose_fleet")
def compute_fleet_choice(run):
    """Gather, choose, compute the frontier, and store all of it in one transaction at the end."""
    asked = Asked(**run.params)
    with as_shown_to(run.by):
        run.progress(0, STEPS, "Reviewing every machine")
        gathered = gather(run.by, asked, timezone.localdate(run.started_at))
        if not gathered.problem.machines:
            raise Refused(f"No machine that you may see is at a site that reckons in {asked.currency}.")
        result = compute(gathered, told=lambda done, words: run.progress(done, STEPS, words))
    with transaction.atomic():
        stored = store_fleet_choice(
            title=asked.title,
            site=Site.objects.filter(pk=asked.site).first() if asked.site else None,
            currency=asked.currency,
            asked=asdict(asked),
            inputs=problem_to_dict(gathered.problem),
            result=result,
            by=run.by,
            at=run.started_at,
        )
        run.finish(Result("The choice is computed.", link=stored.get_absolute_url()))


def compute(gathered, *, told):
    """Return the result as data: the plan, the what-if, the frontier, the baseline, and what is not known."""
    problem = gathered.problem
    told(1, "Choosing for each machine and year")
    plan = choose(problem, seconds=SECONDS_PLAN)
    told(2, "Computing the what-if")
    what_if = _what_if(gathered.what_if)
    points = frontier(problem, seconds=SECONDS_FRONTIER, told=lambda done, _: told(3 + done, "Computing the frontier"))
    plain = greedy_choices(problem)
    named = {choice.machine for choice in plan.choices} | {row[0] for row in (what_if or {}).get("choices", ())}
    if gathered.what_if:
        named |= gathered.what_if.demands.retire
    return {
        "plan": plan_to_dict(plan),
        "what_if": what_if,
        "frontier": [_point(each) for each in points],
        "greedy": {"closed": closed_points(problem, plain), "cost": sum(cost_by_year(problem, plain))},
        "machines": len(problem.machines),
        "about": {name: gathered.about[name] for name in sorted(named)},
        "unknown": [list(each) for each in gathered.unknown],
        "weights": gathered.weights,
    }


def _what_if(problem):
    if problem is None:
        return None
    try:
        plan = choose(problem, seconds=SECONDS_PLAN)
    except CannotBe as refused:
        frees = [WHAT_FREES[name] for name in refused.frees]
        return {"refused": frees}
    return plan_to_dict(plan) | {"retire": sorted(problem.demands.retire)}


def _point(each):
    kinds = [str(choice.option.kind) for choice in each.plan.choices]
    return {
        "share": str(each.share),
        "yearly": each.budgets[0],
        "left": each.plan.left,
        "bound": each.plan.exposure - each.plan.bound,
        "cost": each.plan.cost,
        "kinds": {kind: kinds.count(kind) for kind in sorted(set(kinds))},
    }
