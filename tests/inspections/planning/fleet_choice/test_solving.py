"""The choice is the best there is: equal to an exhaustive search, never dominated, and better with more money."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis.strategies import integers, none, sets

from inspections.planning.fleet_choice import (
    AreaLimit,
    Candidate,
    CannotBe,
    Demands,
    Kind,
    Option,
    Problem,
    Year,
    broken_limits,
    choose,
    closed_points,
    frontier,
    greedy_choices,
)
from inspections.planning.fleet_choice.dominance import dominates
from tests.inspections.planning.fleet_choice.fleets import best_by_hand, every_plan, most_closed, problems
from tests.services.programs import PATIENCE_S

FEW = settings(max_examples=30, deadline=None)
ALTER = Option(Kind.ALTER, 10, 60, 4, ("a",))
REPLACE = Option(Kind.REPLACE, 100, 0, 9)


def fleet(*, number=3, budget=100, options=(ALTER, REPLACE), years=1, **fields):
    machines = tuple(Candidate(f"m{n}", "east", 9, options) for n in range(number))
    return Problem(machines, (Year(budget),) * years, **fields)


@FEW
@given(problem=problems(most=4))
def test_the_merged_search_finds_what_trying_every_plan_finds(problem):
    assert most_closed(problem) == best_by_hand(problem)


@FEW
@given(problem=problems(most=12))
def test_the_choice_for_twelve_machines_closes_as_much_as_any_plan(problem):
    plan = choose(problem, seconds=PATIENCE_S)
    assert plan.closed == most_closed(problem) == closed_points(problem, plan.choices)
    assert plan.is_proved and plan.gap == 0
    assert broken_limits(problem, plan.choices) == []


@FEW
@given(problem=problems(most=12))
def test_no_option_is_chosen_that_another_one_of_the_machine_dominates(problem):
    options = {machine.name: machine.options for machine in problem.machines}
    for choice in choose(problem, seconds=PATIENCE_S).choices:
        assert choice.option.closes > 0
        assert not any(dominates(other, choice.option) for other in options[choice.machine])


@FEW
@given(problem=problems(most=4))
def test_of_the_plans_that_close_the_most_the_one_that_costs_least_is_chosen(problem):
    plan = choose(problem, seconds=PATIENCE_S)
    equal = [each for each in every_plan(problem) if closed_points(problem, each) == plan.closed]
    assert plan.cost == min(sum(choice.option.cost for choice in each) for each in equal)


@FEW
@given(
    problem=problems(most=4),
    replaced=none() | integers(0, 2),
    altered=none() | integers(0, 2),
    retired=sets(integers(0, 3)),
)
def test_with_demands_the_choice_is_the_best_of_the_plans_that_meet_them(problem, replaced, altered, retired):
    names = frozenset(f"m{n}" for n in retired if n < len(problem.machines))
    asked = replace(problem, demands=Demands(replaced, altered, names))
    plans = list(every_plan(asked))
    if not plans:
        with pytest.raises(CannotBe):
            choose(asked, seconds=PATIENCE_S)
        return
    plan = choose(asked, seconds=PATIENCE_S)
    assert plan.closed == max(closed_points(asked, each) for each in plans)
    assert broken_limits(asked, plan.choices) == []


@settings(max_examples=10, deadline=None)
@given(problem=problems(most=8))
def test_more_money_never_leaves_more_exposure(problem):
    points = frontier(problem, seconds=PATIENCE_S)
    left = [point.plan.left for point in points]
    assert len(points) == 10 and left == sorted(left, reverse=True)


@FEW
@given(problem=problems(most=12))
def test_the_baseline_keeps_every_limit_and_never_closes_more(problem):
    choices = greedy_choices(problem)
    assert broken_limits(problem, choices) == []
    assert closed_points(problem, choices) <= choose(problem, seconds=PATIENCE_S).closed


def test_what_is_done_in_a_year_counts_for_it_and_each_year_after():
    # by hand: 10 a year alter one machine each year, worth 4 x 3, 4 x 2, 4 x 1 points
    plan = choose(fleet(budget=10, years=3))
    assert [choice.year for choice in plan.choices] == [0, 1, 2]
    assert plan.closed == 24 and plan.exposure == 3 * 9 * 3 and plan.costs == (10, 10, 10)


def test_money_that_is_carried_over_buys_in_the_next_year_what_no_year_alone_can():
    options = (REPLACE,)
    assert choose(fleet(number=1, budget=60, years=2, options=options)).choices == ()
    carried = choose(fleet(number=1, budget=60, years=2, options=options, carries_over=True))
    assert [choice.year for choice in carried.choices] == [1]


def test_of_machines_that_are_alike_the_first_goes_first():
    assert [choice.machine for choice in choose(fleet(budget=20)).choices] == ["m0", "m1"]


def test_an_area_without_a_machine_to_spare_gets_no_alteration_and_may_get_a_replacement():
    full = {"east": AreaLimit(in_service=3, minimum=3)}
    kinds = {choice.option.kind for choice in choose(fleet(budget=300, areas=full)).choices}
    assert kinds == {Kind.REPLACE}
    assert choose(fleet(budget=300, areas=full, options=(ALTER,))).choices == ()


def test_an_area_gives_away_no_more_machines_in_a_year_than_its_spare_one_stands_in_for():
    # by hand: one spare machine, two turns, money for all five: two are altered, worth 4 points each
    plan = choose(fleet(number=5, budget=1000, options=(ALTER,), areas={"east": AreaLimit(5, 4)}, turns=2))
    assert (len(plan.choices), plan.closed, plan.is_proved) == (2, 8, True)


def test_a_number_of_machines_to_buy_and_to_alter_is_met_exactly():
    plan = choose(fleet(number=5, budget=1000, demands=Demands(replace=1, alter=2)))
    kinds = [choice.option.kind for choice in plan.choices]
    assert (kinds.count(Kind.REPLACE), kinds.count(Kind.ALTER)) == (1, 2)


def test_a_machine_that_is_retired_is_closed_in_full_and_not_chosen_again():
    plan = choose(fleet(number=1, years=2, demands=Demands(retire=frozenset(["m0"]))))
    assert plan.choices == () and plan.left == 0


def test_what_cannot_be_says_which_limit_prevents_it():
    with pytest.raises(CannotBe) as refused:
        choose(fleet(demands=Demands(replace=2)))
    assert refused.value.frees == ("money",)
    full = {"east": AreaLimit(in_service=3, minimum=3)}
    with pytest.raises(CannotBe) as refused:
        choose(fleet(areas=full, demands=Demands(retire=frozenset(["m1"]))))
    assert refused.value.frees == ("areas",)


def test_fewer_minutes_of_technicians_never_close_more():
    some = fleet(number=4, budget=100, options=(ALTER,))
    more, fewer = (replace(some, years=(Year(100, minutes=minutes),)) for minutes in (240, 120))
    assert (choose(more).closed, choose(fewer).closed) == (16, 8)


def test_two_hundred_machines_of_odd_prices_are_chosen_with_a_bound_that_holds():
    machines = tuple(
        Candidate(
            f"m{n}", f"area {n % 40}", 90 + n % 7,
            (Option(Kind.ALTER, 123_457 + 991 * (n % 13), 90, 40 + n % 5), Option(Kind.REPLACE, 4_000_003 + n, 0, 90)),
        )
        for n in range(200)
    )  # fmt: skip
    plan = choose(Problem(machines, (Year(30_000_001, 20),) * 3), seconds=4)
    assert plan.closed <= plan.bound and plan.gap < 0.02


def test_two_machines_of_one_name_are_refused():
    twice = Candidate("m", "east", 1)
    with pytest.raises(ValueError, match="one name"):
        Problem((twice, twice), (Year(1),))
