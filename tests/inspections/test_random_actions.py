"""The current state of every machine equals its definition after any number of random actions.

`CURRENT_STATE_ACTIONS=10000 pytest tests/inspections/test_random_actions.py` does as many as are asked for, and
`CURRENT_STATE_SEED=2` does others. Every comparison reads all rows: `CURRENT_STATE_COMPARED=50` compares after 50.
"""

import os
from datetime import timedelta

import pytest

from fleet.catalogue import FEATURES
from fleet.catalogue.feature_bits import codes_in
from fleet.catalogue.gaps import ESSENTIAL, Standing, judge_feature
from fleet.current_state.comparing import compare_all
from fleet.models import Area, CurrentState, FeatureState, Machine
from inspections.kept.completions import compare_completions
from inspections.kept.keeping import compare, fill
from inspections.kept.kinds import KINDS
from inspections.kept.reviews import REVIEWS
from inspections.kept_counts.counts import compare_counts
from inspections.models import Finding
from inspections.models.querysets.inspections import machines_with_next_due
from tests.inspections.random_actions import RandomActions

pytestmark = pytest.mark.renewed_at_once

ACTIONS = int(os.environ.get("CURRENT_STATE_ACTIONS") or 150)
SEED = int(os.environ.get("CURRENT_STATE_SEED") or ACTIONS)
COMPARED = int(os.environ.get("CURRENT_STATE_COMPARED") or 1)  # actions between two recomputations
LOOK = max(25, COMPARED)  # actions between two comparisons with the definitions


def test_the_rows_equal_their_definition_after_random_actions(db):
    run = RandomActions(seed=SEED)
    fill(REVIEWS, at=run.at, day=run.at.date() + timedelta(days=30))
    for number in range(ACTIONS):
        run.step()
        if number % COMPARED == COMPARED - 1:
            compare_with_recomputation(number)
        if number % LOOK == LOOK - 1:
            compare_with_definitions(run.at.date())
    assert ACTIONS % COMPARED == 0, "the last actions would not be compared"
    assert run.done > ACTIONS / 3


def compare_with_recomputation(number):
    assert list(compare_all()) == [], f"after action {number}"
    for kind in KINDS:
        assert list(compare(kind)) == [], f"{kind.name} after action {number}"
    assert list(compare_counts()) == [], f"after action {number}"
    assert list(compare_completions()) == [], f"after action {number}"


def compare_with_definitions(today):
    """Compare with the rules and querysets themselves, not with what computes the rows."""
    rows = {row.pk: row for row in CurrentState.objects.all()}
    machines = list(machines_with_next_due(Machine.objects.select_related("model").with_missing_count(today)))
    states = FeatureState.objects.by_machine(machines, today)
    assert rows.keys() == {machine.pk for machine in machines}
    for machine in machines:
        row, told, equipment = rows[machine.pk], states[machine.pk], machine.model.equipment
        by_standing = {
            standing: sorted(c for c, f in FEATURES.items() if judge_feature(f, told, equipment).standing is standing)
            for standing in (Standing.GAP, Standing.DOUBT)
        }
        assert codes_in(row.gaps) == by_standing[Standing.GAP]
        assert codes_in(row.doubts) == by_standing[Standing.DOUBT]
        assert row.missing == machine.missing_count == len(set(by_standing[Standing.GAP]) & set(ESSENTIAL))
        assert (row.next_due_on, row.next_due_id) == (machine.next_due_on, machine.next_due_id)
        there = Finding.objects.open().filter(machine=machine)
        assert (row.open_findings, row.essential_findings) == (there.count(), there.essential().count())
        assert row.status == machine.status
    for area in Area.objects.with_in_service():
        at_hand = [row for row in rows.values() if row.area_id == area.pk and row.status == "in service"]
        assert area.in_service == sum(not row.is_away for row in at_hand)
