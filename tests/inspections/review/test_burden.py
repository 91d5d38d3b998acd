"""Maintenance burden: worked by hand, part by part. Weights are policy (common practice, no source)."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis.strategies import integers
from pytest import approx, mark

from inspections.review import PARTS, Event, Upkeep, burden_of
from tests.inspections.review.machines import TODAY, make_facts

FIVE_YEARS = Upkeep(until=date(2031, 11, 26))


def part(facts, code):
    return next(each for each in burden_of(facts).parts if each.part.code == code)


def events(count, days_ago=10):
    return tuple(Event(TODAY - timedelta(days=days_ago), f"leak {n}") for n in range(count))


def test_a_new_sound_machine_costs_nothing():
    assert burden_of(make_facts(built_year=TODAY.year, upkeep=FIVE_YEARS)).score() == approx(0)


def test_six_findings_in_two_years_are_three_a_year_and_count_half():  # by hand: 6 / 2 = 3, of 6
    found = part(make_facts(findings=events(6)), "findings")
    assert (found.amount, found.share) == (approx(3, abs=0.01), approx(0.5, abs=0.01))
    assert found.evidence == "6 findings in 2.0 years: 3.0 findings in a year."
    assert len(found.events) == 6


def test_findings_older_than_two_years_do_not_count():
    assert part(make_facts(findings=events(6, days_ago=731)), "findings").amount == 0


def test_a_record_of_a_month_gives_no_yearly_rate():
    found = part(make_facts(watched_from=date(2026, 11, 1), findings=events(3)), "findings")
    assert (found.amount, found.share) == (None, 0)
    assert "too short" in found.evidence


@mark.parametrize(
    ("upkeep", "share"),
    [
        (Upkeep(is_available=False), 1),
        (Upkeep(until=TODAY - timedelta(days=1)), 1),
        (Upkeep(until=TODAY), 1),
        (Upkeep(until=date(2029, 5, 26)), 0.5),
        (FIVE_YEARS, 0),
        (Upkeep(is_available=True), 0),
        (Upkeep(), 0.5),
    ],
)
def test_the_nearer_the_end_of_parts_the_heavier(upkeep, share):
    assert part(make_facts(upkeep=upkeep), "upkeep").share == approx(share, abs=0.001)


def test_a_machine_bad_in_every_part_scores_a_hundred():
    facts = make_facts(
        findings=events(12),
        failed_results=events(12),
        hours_down=1000,
        upkeep=Upkeep(is_available=False),
        built_year=1990,
    )
    assert burden_of(facts).score() == approx(100, abs=0.2)


def test_age_alone_adds_no_more_than_its_weight():
    share = 100 * PARTS["age"].weight / sum(each.weight for each in PARTS.values())
    assert burden_of(make_facts(built_year=1950, upkeep=FIVE_YEARS)).score() == approx(share)


@given(few=integers(0, 20), more=integers(0, 20))
def test_more_findings_never_lower_the_burden(few, more):
    lighter, heavier = (burden_of(make_facts(findings=events(n))).score() for n in (few, few + more))
    assert heavier >= lighter


@mark.parametrize("weights", [{}, {"age": 1}, {code: 0 for code in PARTS}, {code: -1 for code in PARTS}])
def test_weights_that_cannot_be_are_refused(weights):
    with pytest.raises(ValueError, match="burden weights need findings"):
        burden_of(make_facts()).score(weights)


def test_only_one_weight_left_makes_that_part_the_score():
    weights = {code: float(code == "findings") for code in PARTS}
    assert burden_of(make_facts(findings=events(6))).score(weights) == approx(50, abs=0.5)
