"""The row of each machine is what its records say, after any action."""

from datetime import timedelta

import pytest
from django.db import transaction

from fleet.acting.scope import acting, outside_actions
from fleet.actions import change_model, record_feature_state, request_job
from fleet.catalogue.feature_bits import BIT, codes_in, rules_digest
from fleet.catalogue.gaps import ESSENTIAL
from fleet.current_state.comparing import compare_all, mend_all
from fleet.current_state.job import CURRENT_STATE
from fleet.current_state.reading import holds_on
from fleet.current_state.renewing import renew
from fleet.jobs.running import run_waiting_job
from fleet.models import CurrentState, CurrentStateRules, FeatureState, Machine
from tests.factories import NOON, TODAY, make_machine, make_model, make_person

pytestmark = pytest.mark.renewed_at_once

LATER = NOON + timedelta(days=1)


@pytest.fixture
def by(db):
    return make_person("planner")


def test_a_new_machine_has_its_row(db):
    machine = make_machine(features={"o2-failure-protection": "fitted", "o2-supply-alarm": "not fitted"})
    row = machine.current
    assert (row.asset_number, row.status, row.area, row.site) == (
        machine.asset_number, "in service", machine.area, machine.site,
    )  # fmt: skip
    assert codes_in(row.fitted) == ["o2-failure-protection"]
    assert codes_in(row.gaps) == ["o2-supply-alarm"]
    assert row.missing == 1 and row.holds_from == machine.in_use_from


def test_the_row_counts_what_the_list_of_gaps_counts(db):
    machine = make_machine(features=dict.fromkeys(ESSENTIAL, "not fitted"))
    missing = FeatureState.objects.missing_essential(TODAY).filter(machine=machine)
    assert machine.current.missing == missing.count() > 3
    assert set(missing.values_list("feature", flat=True)) <= set(codes_in(machine.current.gaps))


def test_a_feature_recorded_moves_the_day_from_which_the_row_holds(by):
    machine = make_machine(features={"ratio-protection": "not fitted"})
    record_feature_state(machine, "ratio-protection", "fitted", from_date=TODAY, evidence="retrofit", by=by, at=NOON)
    row = CurrentState.objects.get(pk=machine.pk)
    assert row.holds_from == TODAY and not row.gaps & BIT["ratio-protection"]
    assert holds_on(TODAY) and not holds_on(TODAY - timedelta(days=1))


def test_rows_of_other_rules_are_not_used(db):
    make_machine()
    assert holds_on(TODAY)
    CurrentStateRules.objects.update(rules="others")
    assert not holds_on(TODAY)
    mend_all(at=NOON)
    assert holds_on(TODAY) and CurrentStateRules.objects.get().rules == rules_digest()


def test_a_corrected_model_renews_all_its_machines(by):
    model = make_model(features={"vaporizer-exclusion": "not fitted"}, vaporizer_positions=2)
    machines = [make_machine(model=model) for _ in range(3)]
    assert all(one.current.gaps & BIT["vaporizer-exclusion"] for one in machines)
    change_model(model, features={}, vaporizer_positions=0, by=by, at=LATER)
    rows = CurrentState.objects.filter(model=model)
    assert [row.gaps & BIT["vaporizer-exclusion"] for row in rows] == [0, 0, 0]


def test_renewing_many_machines_takes_as_many_queries_as_renewing_one(by, django_assert_num_queries):
    model = make_model()
    for _ in range(3):
        make_machine(model=model)
    keys = list(Machine.objects.values_list("pk", flat=True))
    CurrentState.objects.update(missing=99)
    with django_assert_num_queries(4):  # the rows, the machines, their features, and the rows written
        assert len(renew(keys)) == 3
    with django_assert_num_queries(3):
        assert renew(keys) == []


def test_a_row_altered_outside_of_actions_is_found_and_mended(db):
    machine = make_machine()
    with outside_actions():
        CurrentState.objects.filter(pk=machine.pk).update(missing=7)
        Machine.objects.filter(pk=machine.pk).update(status="withdrawn")
    (found,) = compare_all()
    assert (found.asset_number, found.columns) == (machine.asset_number, ("status", "missing"))
    assert CurrentState.objects.get().missing == 7
    assert len(mend_all(at=NOON)) == 1 and list(compare_all()) == []
    assert CurrentState.objects.get().status == "withdrawn"


def test_a_machine_without_a_row_and_a_row_without_a_machine_are_found(db):
    kept, hidden = make_machine(), make_machine()
    with outside_actions():
        CurrentState.objects.filter(pk=kept.pk).delete()
        Machine.objects.filter(pk=hidden.pk).update(staged="202611021200-x:in service")
    assert {one.words for one in mend_all(at=NOON)} == {"had no row", "had a row, and is not in the register"}
    assert list(CurrentState.objects.values_list("pk", flat=True)) == [kept.pk]


@pytest.mark.real_journal
def test_an_action_that_fails_leaves_the_row_as_it_was(db):
    with acting("test"):
        machine = make_machine()
    with pytest.raises(ZeroDivisionError), transaction.atomic(), acting("test"):
        Machine.objects.filter(pk=machine.pk).update(status="withdrawn")
        assert holds_on(TODAY) and CurrentState.objects.get().status == "withdrawn"  # read within the action
        raise ZeroDivisionError
    assert CurrentState.objects.get().status == "in service"


def test_the_nightly_job_mends_and_tells_what_differed(db):
    machine = make_machine(asset_number="M-7")
    CurrentState.objects.filter(pk=machine.pk).update(missing=7)
    job = request_job(CURRENT_STATE, title="Compare", params={}, by=None, at=NOON)
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    job.refresh_from_db()
    assert job.result == "The current state of 1 machine was not as recorded, and is renewed: M-7."
    assert list(compare_all()) == []
