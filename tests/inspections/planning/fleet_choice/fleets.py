"""Small fleets for tests of the choice, and what an exhaustive search finds for them."""

from itertools import product

from hypothesis.strategies import builds, composite, integers, lists, none, sampled_from

from inspections.planning.fleet_choice import (
    AreaLimit,
    Candidate,
    Choice,
    Kind,
    Option,
    Problem,
    Year,
    broken_limits,
    closed_points,
)

AREAS = ("east", "west")


@composite
def candidates(draw, name, kinds=(Kind.ALTER, Kind.REPLACE, Kind.RETIRE)):
    exposure = draw(integers(0, 12))
    option = builds(
        Option, kind=sampled_from(kinds), cost=integers(0, 6), minutes=integers(0, 3), closes=integers(0, exposure)
    )
    return Candidate(name, draw(sampled_from(AREAS)), exposure, tuple(draw(lists(option, max_size=2))))


@composite
def problems(draw, most=12, kinds=(Kind.ALTER, Kind.REPLACE, Kind.RETIRE)):
    number = draw(integers(1, most))
    years = lists(
        builds(Year, integers(0, 12), none() | integers(0, 4), none() | integers(0, 5)), min_size=1, max_size=3
    )
    areas = {
        name: AreaLimit(in_service, draw(integers(0, 3))) for name in AREAS if (in_service := draw(integers(0, 3)))
    }
    return Problem(
        tuple(draw(candidates(f"m{n}", kinds)) for n in range(number)),
        tuple(draw(years)),
        areas,
        turns=draw(integers(1, 2)),
        carries_over=draw(sampled_from([False, True])),
    )


def every_plan(problem):
    """Yield every plan that holds, of few machines."""
    ways = [
        [None, *(Choice(m.name, n, option) for option in m.options for n in range(len(problem.years)))]
        for m in problem.machines
    ]
    for chosen in product(*ways):
        plan = tuple(choice for choice in chosen if choice)
        if not broken_limits(problem, plan):
            yield plan


def most_closed(problem):
    """Return the most points that any plan closes: every combination, those with one use of the limits merged."""
    reached = {_unused(problem): 0}
    for machine in problem.machines:
        after = dict(reached)
        for option, year in product(machine.options, range(len(problem.years))):
            for state, closed in reached.items():
                used = _used(problem, state, machine, option, year)
                if used is not None:
                    worth = closed + option.closes * (len(problem.years) - year)
                    after[used] = max(after.get(used, 0), worth)
        reached = after
    return max(reached.values())


def _unused(problem):
    years, areas = len(problem.years), sorted(problem.areas)
    return ((0,) * years, (0,) * years, (0,) * years, tuple((0,) * years for _ in areas))


def _used(problem, state, machine, option, year):
    """The state with one option more, None where a limit is broken."""
    money, count, minutes, away = (list(each) for each in state)
    money[year] += option.cost
    count[year] += 1
    minutes[year] += option.minutes
    for n, code in enumerate(sorted(problem.areas)):
        if code == machine.area:
            away[n] = _away(problem, away[n], option, year)
            spare = max(0, problem.areas[code].in_service - problem.areas[code].minimum)
            if any(each > spare * problem.turns for each in away[n]):
                return None
    for n, limit in enumerate(problem.years):
        spent, allowed = money[n], limit.budget
        if problem.carries_over:
            spent, allowed = sum(money[: n + 1]), sum(each.budget for each in problem.years[: n + 1])
        too_many = limit.machines is not None and count[n] > limit.machines
        if spent > allowed or too_many or (limit.minutes is not None and minutes[n] > limit.minutes):
            return None
    return tuple(money), tuple(count), tuple(minutes), tuple(away)


def _away(problem, away, option, year):
    each = list(away)
    if option.kind is Kind.ALTER:
        each[year] += 1
    if option.kind is Kind.RETIRE:
        each[year:] = [n + problem.turns for n in each[year:]]
    return tuple(each)


def best_by_hand(problem):
    return max(closed_points(problem, plan) for plan in every_plan(problem))
