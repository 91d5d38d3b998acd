"""Plans of a year: every hard rule, even loads, the smallest objective of small problems, and the same plan twice."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest
from pytest import approx

from inspections.planning.year_plan import (
    AreaRoom,
    BookedWork,
    Job,
    Problem,
    SiteDays,
    Technician,
    objective_of,
    plan_year,
)
from tests.inspections.planning.year_plan.brute_force import smallest_objective
from tests.inspections.planning.year_plan.checking import faults, shares
from tests.inspections.planning.year_plan.fleets import FIRST, make_fleet


@pytest.fixture(scope="module")
def year():
    """A year of 800 machines with four technicians and 40 booked inspections, planned once."""
    problem = make_fleet(800, 4, booked=40)
    return problem, plan_year(problem)


def test_a_plan_for_800_machines_keeps_every_hard_rule(year):
    problem, plan = year
    assert faults(problem, plan) == []
    assert len(plan.unplaced) == plan.bound // 1000, "as few as the bound allows: competences that end"


def test_the_loads_of_four_technicians_are_within_10_percent(year):
    problem, plan = year
    filled = shares(problem, plan)
    assert min(filled) >= 0.9 * max(filled)


def test_the_objective_is_that_of_the_placements_and_not_below_the_bound(year):
    problem, plan = year
    placed = {one.job: (one.technician, one.day) for one in plan.placements}
    assert plan.objective == approx(objective_of(problem, placed))
    assert plan.bound <= plan.objective and 0 <= plan.gap < 0.5


def test_the_checker_sees_each_kind_of_fault(year):
    problem, plan = year
    first = plan.placements[0]
    for other in (
        replace(first, day=first.day + timedelta(days=200)),
        replace(first, day=first.day - timedelta(days=first.day.weekday() + 1)),
    ):
        assert faults(problem, replace(plan, placements=(other, *plan.placements[1:])))
    assert faults(problem, replace(plan, placements=plan.placements[1:]))


def test_the_same_problem_gives_the_same_plan():
    problem = make_fleet(120, 3, seed=5)
    assert plan_year(problem) == plan_year(problem)


def test_progress_rises_to_its_total():
    told = []
    plan_year(make_fleet(120, 3), lambda done, total, words: told.append((done, total, words)))
    assert len({words for _, _, words in told}) == 3 and all(done <= total for done, total, _ in told)


def small_problem(seed):
    """Eight inspections of two sites within two weeks, two technicians, little room."""
    random = Random(seed)
    days = [FIRST + timedelta(days=number) for number in (2, 3, 7)]
    people = tuple(
        Technician(
            number,
            f"T{number}",
            {day: random.choice([0, 120, 240]) for day in days},
            frozenset(random.choice([(), (0,), ()])),
            {"x": random.choice([None, days[1]])} if random.random() < 0.7 else {},
        )
        for number in (1, 2)
    )
    areas = (AreaRoom(0, "A", random.choice([None, 1, 2])), AreaRoom(1, "B", 2, frozenset(days[:1])))
    sites = (SiteDays(0, "S"), SiteDays(1, "T", frozenset(days[2:])))
    jobs = []
    for number in range(8):
        area, first, due = random.randrange(2), random.choice(days[:2]), random.choice(days)
        minutes, skill = random.choice([60, 90, 120]), random.choice(["", "", "x"])
        jobs.append(Job(number, number // 2, area, area, minutes, first, days[2], due, skill))
    booked = (BookedWork(1, days[0], 30, 99, 0, 0),) if seed % 2 else ()
    return Problem(FIRST, days[2], tuple(jobs), people, areas, sites, booked)


@pytest.mark.parametrize("seed", range(8))
def test_a_plan_of_eight_has_the_smallest_objective_that_any_placement_has(seed):
    problem = small_problem(seed)
    plan = plan_year(problem)
    assert plan.is_exact and faults(problem, plan) == []
    assert plan.objective == approx(smallest_objective(problem), abs=1e-6)
    assert plan.gap == approx(0, abs=1e-6)


def test_booked_work_takes_its_minutes_and_its_visit_is_shared():
    day = FIRST
    person = Technician(1, "T", {day: 120, day + timedelta(days=1): 120})
    job = Job(1, 1, 0, 0, 60, day, day + timedelta(days=1), day)
    problem = Problem(day, day + timedelta(days=1), (job,), (person,), (AreaRoom(0, "A"),), (SiteDays(0, "S"),))
    later = replace(problem, booked=(BookedWork(1, day + timedelta(days=1), 60, 9, 0, 0),))
    assert plan_year(later).placements[0].day == date(2027, 1, 5)
    full = replace(problem, booked=(BookedWork(1, day, 100, 9, 0, 0),))
    assert plan_year(full).placements[0].day == date(2027, 1, 5)
