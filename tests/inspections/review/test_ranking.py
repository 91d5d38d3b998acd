"""Ranking: lexicographic, monotone, and open to other weights."""

import pytest
from hypothesis import given
from hypothesis.strategies import permutations, sampled_from, sets

from inspections.review import CRITERIA, DEFAULT_WEIGHTS, HAZARD_WEIGHTS, Move, Weights, exposure, moves, rank, review
from tests.inspections.review.machines import broken, make_facts

CODES = list(CRITERIA)


def reviewed(name, *codes, **changes):
    return review(broken(make_facts(name, **changes), *codes))


def order(reviews, weights=None):
    return [place.review.facts.name for place in rank(reviews, weights)]


def test_an_absolute_criterion_ranks_before_any_number_of_relative_ones():
    relative = [code for code in CODES if code.startswith("R")]
    assert order([reviewed("many", *relative), reviewed("one", "A6")]) == ["one", "many"]


def test_more_absolute_criteria_rank_first_whatever_their_hazards():
    # A4 opens hazards of weight 6 + 8 = 14; A1 and A2 together open the hypoxic mixture alone, 10
    assert order([reviewed("one", "A4"), reviewed("two", "A1", "A2")]) == ["two", "one"]


def test_with_equal_hazards_more_relative_criteria_rank_first():  # R9 opens no hazard
    assert order([reviewed("a one", "R2"), reviewed("b two", "R2", "R9")]) == ["b two", "a one"]


def test_with_equal_counts_the_heavier_hazards_rank_first():  # weights: hypoxic mixture 10, two agents 6 + overdose 8
    assert order([reviewed("hypoxic", "A1"), reviewed("agents", "A4")]) == ["agents", "hypoxic"]


def test_with_all_else_equal_the_burden_decides():
    assert order([reviewed("young", built_year=2020), reviewed("old", built_year=1990)]) == ["old", "young"]


def test_equals_share_a_place_and_the_next_one_counts_on():
    places = rank([reviewed("b"), reviewed("a"), reviewed("z", built_year=1950), reviewed("c", built_year=2026)])
    assert [(each.review.facts.name, each.place) for each in places] == [("z", 1), ("a", 2), ("b", 2), ("c", 4)]


def test_a_hazard_opened_twice_counts_once():  # A1 and A2 both open only the hypoxic mixture
    assert exposure(reviewed("m", "A1", "A2"), Weights()) == HAZARD_WEIGHTS["hypoxic-mixture"]


@given(first=sets(sampled_from(CODES)), second=sets(sampled_from(CODES)), added=sampled_from(CODES))
def test_one_more_criterion_met_never_improves_a_machine_s_place(first, second, added):
    other = reviewed("other", *second)
    before = order([reviewed("m", *first), other])
    after = order([reviewed("m", *first, added), other])
    assert after.index("m") <= before.index("m")


@given(shuffled=permutations([(), ("A1",), ("A4",), ("R5",), ("R1", "R2"), ("A1", "R5")]))
def test_the_order_given_does_not_matter(shuffled):
    reviews = [reviewed("-".join(codes) or "none", *codes) for codes in shuffled]
    # by hand, exposure: A1-R5 10 + 8 + 8 + 6 = 32, A4 14, A1 10; R1-R2 8 + 8 + 10 = 26, R5 22
    assert order(reviews) == ["A1-R5", "A4", "A1", "R1-R2", "R5", "none"]


def test_other_hazard_weights_change_the_order_and_the_moves_say_how():
    reviews = [reviewed("hypoxic", "A1"), reviewed("agents", "A4"), reviewed("sound")]
    heavier = Weights(hazards={**HAZARD_WEIGHTS, "hypoxic-mixture": 20})
    assert order(reviews, heavier) == ["hypoxic", "agents", "sound"]
    assert moves(reviews, Weights(), heavier) == (Move("hypoxic", 2, 1), Move("agents", 1, 2))


def test_other_burden_weights_change_the_order_only_among_equals():
    # by hand: old 10 of 100; down 4 for ten years + 2 for 50 h a year = 6; without age 0 against 2.2
    reviews = [reviewed("old", built_year=1990), reviewed("down", hours_down=100), reviewed("bad", "A1")]
    ageless = Weights(burden={**DEFAULT_WEIGHTS, "age": 0})
    assert order(reviews) == ["bad", "old", "down"]
    assert order(reviews, ageless) == ["bad", "down", "old"]


def test_the_same_weights_move_nothing():
    assert moves([reviewed("a", "A1"), reviewed("b")], Weights(), Weights()) == ()


def test_no_machine_is_an_empty_ranking():
    assert rank([]) == ()


def test_a_missing_hazard_weight_is_refused():
    with pytest.raises(ValueError, match="missing: fire"):
        Weights(hazards={code: weight for code, weight in HAZARD_WEIGHTS.items() if code != "fire"})
