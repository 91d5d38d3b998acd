"""What cannot be placed says which rule binds, and what would free it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inspections.planning.year_plan import AreaRoom, Binding, Job, Problem, SiteDays, Span, Technician, plan_year
from tests.inspections.planning.year_plan.fleets import FIRST

DAYS = [FIRST + timedelta(days=number) for number in range(7)]
JOB = Job(1, 1, 0, 0, 60, DAYS[0], DAYS[6], DAYS[2], "Norrfell Three", frozenset({"pressure"}))
PERSON = Technician(1, "Maud", dict.fromkeys(DAYS[:5], 240), frozenset(), {"Norrfell Three": None})
AREA, SITE = AreaRoom(0, "Theatre", 2), SiteDays(0, "Orrin", frozenset(), {"pressure": (Span(DAYS[0], DAYS[6]),)})


def problem(*, job=None, person=None, area=None, site=None, jobs=()):
    job, person = replace(JOB, **(job or {})), replace(PERSON, **(person or {}))
    area, site = replace(AREA, **(area or {})), replace(SITE, **(site or {}))
    return Problem(DAYS[0], DAYS[6], (job, *jobs), (person,), (area,), (site,))


def others(**fields):
    """Five inspections that fill the week, and are placed before the one that is looked at."""
    day = [replace(JOB, key=10 + n, machine=10 + n, first_day=DAYS[n], last_day=DAYS[n]) for n in range(5)]
    return [replace(one, **fields) for one in day]


CASES = {
    Binding.WINDOW_OUTSIDE: {"job": {"last_day": DAYS[0] - timedelta(days=1)}},
    Binding.FREE_DAYS: {"site": {"free_days": frozenset(DAYS)}},
    Binding.AREA_CLOSED: {"area": {"closed": frozenset(DAYS)}},
    Binding.NO_INSTRUMENT: {"site": {"instruments": {}}},
    Binding.INSTRUMENT_OUT: {
        "site": {"instruments": {"pressure": (Span(DAYS[0] - timedelta(days=9), DAYS[0] - timedelta(days=1)),)}}
    },
    Binding.AREA_MINIMUM: {"area": {"spare": 0}},
    Binding.NOBODY_AT_SITE: {"person": {"sites": frozenset({7})}},
    Binding.NOBODY_COMPETENT: {"person": {"skills": {}}},
    Binding.COMPETENCE_EXPIRES: {"person": {"skills": {"Norrfell Three": DAYS[0] - timedelta(days=1)}}},
    Binding.NOBODY_PRESENT: {"person": {"minutes": {DAYS[0] + timedelta(days=30): 240}}},
    Binding.TOO_LONG: {"job": {"minutes": 300}},
    Binding.AREA_TAKEN: {
        "job": {"first_day": DAYS[0], "last_day": DAYS[0], "due_on": DAYS[6] + timedelta(days=70)},
        "area": {"spare": 1},
        "jobs": others(),
    },
    Binding.HOURS_TAKEN: {
        "job": {"minutes": 90, "due_on": DAYS[6] + timedelta(days=70)},
        "jobs": others(minutes=200),
    },
}


def test_every_binding_rule_has_a_case():
    assert set(CASES) == set(Binding) and len(CASES) >= 8


@pytest.mark.parametrize("binding", CASES, ids=str)
def test_what_cannot_be_placed_names_the_rule_that_binds(binding):
    plan = plan_year(problem(**CASES[binding]))
    [unplaced] = plan.unplaced
    assert (unplaced.job, unplaced.binding) == (1, binding)
    assert unplaced.reason.endswith(".") and unplaced.remedy.endswith(".")


def test_without_its_binding_rule_the_inspection_is_placed():
    assert plan_year(problem()).unplaced == ()
