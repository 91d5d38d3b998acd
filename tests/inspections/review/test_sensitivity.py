"""Sensitivity of the ranking: equal to ranking again with the changed weight."""

from datetime import date

from hypothesis import given, settings
from hypothesis.strategies import integers, lists, sampled_from, sets

from inspections.review import (
    CRITERIA,
    DEFAULT_WEIGHTS,
    EQUAL,
    HAZARD_WEIGHTS,
    Event,
    Upkeep,
    Weights,
    rank,
    review,
    sensitivity,
)
from tests.inspections.review.machines import broken, make_facts

CODES = list(CRITERIA)


def reviewed(name, *codes, **changes):
    return review(broken(make_facts(name, **changes), *codes))


def order(reviews, weights=None):
    return [place.review.facts.name for place in rank(reviews, weights)]


def changed(one, by):
    weights = {True: dict(HAZARD_WEIGHTS), False: dict(DEFAULT_WEIGHTS)}
    weights[one.is_hazard][one.code] *= 1 + by
    return Weights(hazards=weights[True], burden=weights[False])


FLEETS = lists(sets(sampled_from(CODES), max_size=4), min_size=3, max_size=7)


@settings(max_examples=12, deadline=None)
@given(fleet=FLEETS, years=lists(integers(1985, 2024), min_size=7, max_size=7))
def test_within_the_range_of_a_weight_the_first_stay_and_a_step_beyond_they_do_not(fleet, years):
    reviews = [
        reviewed(f"m{n}", *codes, built_year=year) for n, (codes, year) in enumerate(zip(fleet, years, strict=False))
    ]
    first = set(order(reviews)[:2])
    for one in sensitivity(reviews, first=2).weights:
        for end, sign in ((one.lowest, -1), (one.highest, 1)):
            assert set(order(reviews, changed(one, end))[:2]) == first
            if abs(end) < 0.5:
                assert set(order(reviews, changed(one, end + sign * 0.01))[:2]) != first


def test_the_range_of_a_weight_is_the_one_worked_by_hand():
    # hypoxic mixture 10 (A1) against two agents 6 + overdose 8 (A4): 10 x 1.4 = 14 is equal, more puts A1 first
    found = sensitivity([reviewed("agents", "A4"), reviewed("hypoxic", "A1")], first=1)
    hypoxic = next(one for one in found.weights if one.code == "hypoxic-mixture")
    assert (hypoxic.lowest, round(hypoxic.highest, 2)) == (-0.5, 0.4)
    assert [(each.name, each.highest, each.lowest) for each in found.ranks] == [("agents", 1, 2)]


def test_the_step_that_decided_is_said_of_every_machine_but_the_first():
    # ends of support far ahead add nothing to the burden, so that the step of the end itself decides
    near, far = (Upkeep(is_available=True, until=date(year, 1, 1)) for year in (2090, 2095))
    ends = {"b": far, "c": near, "d": far}
    places = rank([reviewed("a", "A1"), *(reviewed(name, upkeep=end) for name, end in ends.items())])
    assert [each.review.facts.name for each in places] == ["a", "c", "b", "d"]
    assert [each.decided_by for each in places] == [
        "",
        "conclusion",
        "end of support",
        EQUAL,
    ]
    assert [each.place for each in places] == [1, 2, 3, 3]


def test_of_machines_alike_in_all_else_the_one_withdrawn_for_longer_comes_first():
    # 1 and 2 hours in two years are one burden to the tenth: the step of the hours decides
    places = rank([reviewed("a", hours_down=1), reviewed("b", hours_down=2)])
    assert [each.review.facts.name for each in places] == ["b", "a"]
    assert places[1].decided_by == "hours withdrawn"


def test_a_finding_of_long_ago_breaks_no_tie():
    old = (Event(date(2001, 1, 1), "Leak"),)
    places = rank([reviewed("a"), reviewed("b", findings=old)])
    assert [each.place for each in places] == [1, 1]


def test_each_machine_is_ranked_by_the_weights_of_its_own_site():
    heavier = Weights(hazards={**HAZARD_WEIGHTS, "hypoxic-mixture": 20})
    reviews = [reviewed("hypoxic", "A1"), reviewed("agents", "A4")]
    assert [each.review.facts.name for each in rank(reviews, of={"hypoxic": heavier})] == ["hypoxic", "agents"]
