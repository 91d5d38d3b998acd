"""How what a computed circuit leaves open enters the hazard weight: once, and only where a protection is lacking."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue import HAZARDS
from inspections.review import CircuitFact, MachineFacts, OpenHazard, Weights, exposure, rank, review
from tests.inspections.review.machines import broken, make_facts

DAY = date(2026, 11, 2)
NO_RATIO = broken(make_facts(), "A1")  # which leaves the hypoxic mixture open


def with_circuit(facts, *hazards):
    return replace(facts, circuit=CircuitFact(DAY, tuple(hazards)))


def weight_of(facts):
    return exposure(review(facts), Weights())


def test_a_hazard_that_a_criterion_names_too_counts_once():
    both = with_circuit(NO_RATIO, OpenHazard("hypoxic-mixture", 4, 2, 1))
    assert weight_of(both) == weight_of(NO_RATIO)
    assert review(both).added_hazards == ()


def test_a_hazard_that_only_the_circuit_shows_adds_its_weight():
    found = with_circuit(NO_RATIO, OpenHazard("barotrauma", 1, 1, 1, "APL valve shut"))
    assert weight_of(found) == weight_of(NO_RATIO) + HAZARDS["barotrauma"].weight
    assert review(found).added_hazards == ("barotrauma",)


@pytest.mark.parametrize("likely", [0, 3])
def test_rare_causes_and_those_that_no_protection_closes_are_shown_and_not_counted(likely):
    found = with_circuit(NO_RATIO, OpenHazard("barotrauma", 3, likely))
    assert weight_of(found) == weight_of(NO_RATIO)
    assert [each.code for each in review(found).computed_hazards] == ["barotrauma"]


def test_the_circuit_decides_no_conclusion():
    every = [OpenHazard(code, 1, 1, 1) for code in HAZARDS]
    plain = MachineFacts("M-1", DAY)
    assert review(with_circuit(plain, *every)).conclusion == review(plain).conclusion


def test_of_two_machines_with_the_same_criteria_the_one_whose_circuit_leaves_more_open_ranks_worse():
    worse = with_circuit(replace(NO_RATIO, name="M-2"), OpenHazard("barotrauma", 1, 1, 1))
    places = rank([review(NO_RATIO), review(worse)])
    assert [place.review.facts.name for place in places] == ["M-2", NO_RATIO.name]


@given(st.sets(st.sampled_from(sorted(HAZARDS))), st.sets(st.sampled_from(sorted(HAZARDS))))
def test_the_weight_never_exceeds_that_of_all_hazards_and_grows_with_what_is_open(few, more):
    fewer, all_of_them = (
        weight_of(with_circuit(NO_RATIO, *(OpenHazard(code, 1, 1, 1) for code in codes))) for codes in (few, few | more)
    )
    assert fewer <= all_of_them <= sum(hazard.weight for hazard in HAZARDS.values())


@pytest.mark.parametrize("numbers", [(1, 2, 0), (2, 1, 2), (2, 1, -1)])
def test_numbers_of_causes_that_cannot_be_are_refused(numbers):
    with pytest.raises(ValueError, match="each at most the one before"):
        OpenHazard("barotrauma", *numbers)
