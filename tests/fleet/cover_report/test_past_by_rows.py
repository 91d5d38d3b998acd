"""The report of a past day from the current states and the history of what changed is that of the whole history."""

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions import move_machine, record_feature_state, retire_machine
from fleet.cover_report import CoverFilter, build_report, by_rows, select_machines
from fleet.cover_report.queries import Unneeded
from fleet.models import CurrentState, CurrentStateRules, FeatureState
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site

CODES = ("ratio-protection", "electronic-mixing", "scavenging-breathing-size", "o2-analyser")
pytestmark = pytest.mark.renewed_at_once

STATES = ("fitted", "not fitted", "not known")
DAYS = [TODAY - timedelta(days=days) for days in (1, 30, 150, 151, 300, 365, 4000)]


def report(on, person=None, **fields):
    wanted, unneeded = CoverFilter(on=on, today=TODAY, **fields), Unneeded()
    return build_report(select_machines(wanted, person, unneeded), wanted, unneeded)


@pytest.fixture
def altered(db):
    """Machines that were altered, moved and retired on several days; some came into use between them."""
    rng = random.Random(5)
    areas = [make_area(make_site()) for _ in range(3)]
    models = [make_model(features=dict.fromkeys(CODES, "not fitted")), make_model(gases=["oxygen", "air"])]
    machines = [
        make_machine(model=rng.choice(models), area=rng.choice(areas), in_use_from=TODAY - timedelta(days=days))
        for days in (3000, 3000, 3000, 300, 150, 20)
    ]
    for machine in machines[:4]:
        for days in sorted(rng.sample((5, 30, 100, 150, 200), 2), reverse=True):
            record_feature_state(
                machine, rng.choice(CODES), rng.choice(STATES), from_date=TODAY - timedelta(days=days),
                evidence="retrofit", by=None, at=NOON,
            )  # fmt: skip
    move_machine(machines[0], area=areas[0], on=date(2026, 6, 1), evidence="Order 7", by=None, at=NOON)
    retire_machine(machines[1], by=None, at=NOON, reason="Worn out")
    return areas


@pytest.mark.parametrize("status", ["not retired", "all"])
def test_a_past_day_by_rows_is_that_of_the_history(altered, status):
    person = make_person("manager", sites=[altered[1].site])
    asked = [(day, who) for day in DAYS for who in (None, person)]
    by_rows = [report(*each, status=status) for each in asked]
    assert {one.machines for one in by_rows} > {0, 6} if status == "all" else len({one.machines for one in by_rows}) > 3
    CurrentStateRules.objects.all().delete()
    assert by_rows == [report(*each, status=status) for each in asked]


def test_of_too_many_that_changed_the_database_counts_the_history(altered, monkeypatch):
    """No page reads more of the history than that of MOST_CHANGED machines row by row."""
    day = TODAY - timedelta(days=60)
    changed = CurrentState.objects.changed_since(day).count()
    assert changed > 1
    found = {}
    for most in (changed, changed - 1):
        monkeypatch.setattr(by_rows, "MOST_CHANGED", most)
        with CaptureQueriesContext(connection) as captured:
            found[most] = report(day)
        history = [one["sql"] for one in captured if "GROUP BY" in one["sql"] and "fleet_featurestate" in one["sql"]]
        assert bool(history) == (most < changed)
    assert found[changed] == found[changed - 1]


def test_the_history_is_read_only_of_machines_that_changed_since(altered):
    day = TODAY - timedelta(days=60)
    changed = CurrentState.objects.changed_since(day)
    assert 0 < changed.count() < CurrentState.objects.count()
    with CaptureQueriesContext(connection) as captured:
        whole = report(day)
    read = [one["sql"] for one in captured if f'FROM "{FeatureState._meta.db_table}"' in one["sql"]]
    assert len(read) == 1 and '"holds_from" >' in read[0]
    CurrentStateRules.objects.all().delete()
    assert replace(whole) == report(day)
