"""A large file is entered in short hidden transactions, and shown completely or not at all."""

import json
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import connection, transaction

from fleet.acting.scope import acting, history
from fleet.actions.register import Entry
from fleet.current_state.comparing import compare_all
from fleet.errors import RegisterRefused
from fleet.imports import Scope, parse_upload, plan_import
from fleet.imports.staging import AT_ONCE, LEAST, MOST, WANTED_S, discard_left_over, next_size, stage_machines
from fleet.imports.uploads import import_register
from fleet.models import AreaPeriod, ChangeEntry, CurrentState, FeatureState, JournalLink, Machine, StatusChange
from fleet.register_file import MACHINES, parse_register
from inspections.chain.verification import verify_store
from tests.factories import NOON, TODAY, make_area, make_machine, make_model

ROWS = 8 * AT_ONCE + 7  # four batches at least


@pytest.fixture
def area(transactional_db):
    return make_area()


@pytest.fixture
def model(area):
    return make_model(features={"o2-analyser": "fitted", "ratio-protection": "not fitted"})


def plan_of(area, model, note="", rows=ROWS, status="in service"):
    lines = [f"S-{n:04},{model.code},{area.site.code},{area.name},2020-01-01,{status},{note}" for n in range(rows)]
    text = "\n".join(["asset_number,model,site,area,in_use_from,duty,note", *lines])
    plan = plan_import(parse_upload(text.encode(), MACHINES), Scope.of(None, TODAY))
    assert not plan.problems, plan.problems[:3]
    return plan


@contextmanager
def transactions():
    """Count the statements of each transaction that this connection makes meanwhile."""
    sizes = []

    def watch(execute, sql, params, many, context):
        if connection.in_atomic_block:
            if sql.startswith("BEGIN") or not sizes:
                sizes.append(0)
            sizes[-1] += 1
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield sizes


def do(plan, **options):
    import_register(plan, by=None, at=NOON, source="list.csv", **options)


def left():
    rows = (Machine.with_staged, ChangeEntry.objects, StatusChange.objects, FeatureState.objects)
    return [one.count() for one in rows]


def test_nothing_is_seen_before_the_last_transaction_and_all_of_it_after(area, model):
    seen = []

    def look(done, total, words):
        with transaction.atomic():
            seen.append(
                (Machine.objects.count(), area.machines.count(), area.machines.filter(status="in service").count())
            )
        assert not connection.in_atomic_block, "no transaction is open while the work goes on"

    do(plan_of(area, model), tell=look)
    assert len(seen) >= 4 and set(seen) == {(0, 0, 0)}
    assert Machine.objects.count() == ROWS
    assert not Machine.with_staged.exclude(staged="").exists()
    assert FeatureState.objects.count() == 2 * ROWS
    assert ChangeEntry.objects.filter(after__Status="in service").count() == ROWS


@pytest.mark.parametrize("status", ["in service", "withdrawn", "retired"])
def test_a_staged_machine_is_entered_as_a_few_at_a_time_are(area, model, status):
    do(plan_of(area, model, status=status))
    large = Machine.objects.get(asset_number="S-0000")
    Machine.objects.all().delete()
    do(plan_of(area, model, rows=1, status=status))
    little = Machine.objects.get(asset_number="S-0000")
    for name in ("status", "staged", "area_id", "model_id", "in_use_from", "serial", "note"):
        assert getattr(large, name) == getattr(little, name)


@pytest.mark.parametrize("when", [0, 2, "last"])
@pytest.mark.parametrize("error", [KeyboardInterrupt, RegisterRefused("Not now."), ZeroDivisionError])
def test_an_import_that_ends_early_leaves_nothing(area, model, when, error):
    calls = []

    def tell(done, total, words):
        calls.append(done)
        if len(calls) - 1 == when:
            raise error

    def last():
        if when == "last":
            raise error

    with pytest.raises(error if isinstance(error, type) else type(error)):
        do(plan_of(area, model), tell=tell, last=last)
    assert left() == [0, 0, 0, 0]


def test_a_machine_that_somebody_enters_meanwhile_stays_and_nothing_else_is_imported(area, model):
    plan = plan_of(area, model)
    make_machine(area=area, model=model, asset_number=f"S-{ROWS - 1:04}")
    before = left()
    with pytest.raises(RegisterRefused, match="one of its machines was entered after the preview"):
        do(plan)
    assert left() == before


def test_what_an_import_left_that_was_killed_goes_after_a_day(area, model):
    entry = plan_of(area, model).created[0]
    stage_machines([Entry(entry.fields)], by=None, at=NOON, source="list.csv", tell=lambda *told: None, total=1)
    assert (discard_left_over(at=NOON + timedelta(hours=23)), Machine.with_staged.count()) == (0, 1)
    assert discard_left_over(at=NOON + timedelta(days=1, minutes=1)) == 1
    assert left() == [0, 0, 0, 0]


def test_many_plain_corrections_take_a_few_statements_and_leave_the_entries_of_one_by_one(area, model):
    rows = 3 * AT_ONCE + 7
    do(plan_of(area, model, rows=rows))
    entries = ChangeEntry.objects.count()
    plan = plan_of(area, model, note="Looked at", rows=rows)
    with transactions() as sizes:
        do(plan)
    assert max(sizes) < 10
    assert Machine.objects.filter(note="Looked at").count() == rows
    made = ChangeEntry.objects.order_by("-pk")[:rows]
    assert ChangeEntry.objects.count() == entries + rows
    assert {(str(one.before), str(one.after), one.record) for one in made} == {
        ("{'Note': ''}", "{'Note': 'Looked at'}", "machine")
    }


def test_a_machine_corrected_meanwhile_is_not_overwritten(area, model):
    do(plan_of(area, model))
    plan = plan_of(area, model, note="Looked at")
    Machine.objects.filter(asset_number="S-0003").update(note="Broken")
    with pytest.raises(RegisterRefused, match="changed since the preview"):
        do(plan)
    assert set(Machine.objects.values_list("note", flat=True)) == {"", "Broken"}


@pytest.mark.parametrize("per_machine_s", [0.0001, 0.005, 0.02, 0.04])
def test_a_transaction_takes_as_many_machines_as_fit_into_its_time(per_machine_s):
    size = AT_ONCE
    for _ in range(5):
        size = next_size(size, size * per_machine_s)
    assert LEAST <= size <= MOST
    assert size == MOST or size * per_machine_s <= WANTED_S


def altered():
    return [one for one in verify_store() if one.inspection is None]


@pytest.fixture
def place(transactional_db):
    with history(), acting("test"):
        return make_area(), make_model(features={"o2-analyser": "fitted", "ratio-protection": "not fitted"})


@pytest.mark.real_journal
def test_each_batch_is_an_action_that_is_journaled_by_itself(place):
    states, actions = [], []

    def look(done, total, words):
        states.append((connection.in_atomic_block, altered(), CurrentState.objects.count()))

    with history():
        do(plan_of(*place), tell=look)
        actions = [json.loads(one.content)["action"] for one in JournalLink.objects.order_by("sequence")]
    assert len(states) >= 4 and all(state == (False, [], 0) for state in states)
    assert actions.count("register_machines") >= 4 and actions[-1] == "import_register"
    assert altered() == [] and list(compare_all()) == []
    assert CurrentState.objects.count() == ROWS


@pytest.mark.real_journal
@pytest.mark.parametrize("when", [0, 2])
def test_what_an_import_leaves_out_again_is_removed_by_actions(place, when):
    calls = []

    def tell(done, total, words):
        calls.append(done)
        if len(calls) - 1 == when:
            raise ZeroDivisionError

    with history(), pytest.raises(ZeroDivisionError):
        do(plan_of(*place), tell=tell)
    assert left() == [0, 0, 0, 0] and AreaPeriod.objects.count() == 0
    assert altered() == []


@pytest.mark.real_journal
def test_a_hidden_machine_that_is_altered_before_it_is_shown_is_reported(place):
    def alter(done, total, words):
        if done:
            Machine.with_staged.filter(asset_number="S-0003").update(serial="OTHER")

    with history():
        do(plan_of(*place), tell=alter)
    assert [(one.field, one.found) for one in altered()] == [("serial", "OTHER")]


@pytest.mark.real_journal
def test_a_machine_that_a_file_corrected_is_no_altered_one(db):
    """Corrections are written by statements of their own, which no signal reports."""
    with history():
        with acting("test"):
            machine = make_machine(asset_number="A-1", serial="OLD-1")
        plan = plan_import(parse_register(b"asset_number,serial\nA-1,NEW-2\n"), Scope.of(None, TODAY))
        import_register(plan, by=None, at=NOON, source="list.csv")
    machine.refresh_from_db()
    assert machine.serial == "NEW-2"
    assert [one for one in verify_store() if one.inspection is None] == []
