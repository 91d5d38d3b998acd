"""No action changes a row of a tracked record without an entry with who, when, before and after."""

import sys
from pathlib import Path

import pytest

import fleet.actions
import inspections.actions
from fleet.acting.scope import acting, history
from fleet.actions import record_feature_state, withdraw_machine
from fleet.changes import changes_of, tracked_models
from fleet.current_state.comparing import compare_all
from fleet.imports import answering, uploads, waiting
from fleet.models import ChangeEntry, JournalLink
from inspections.chain.verification import verify_store
from tests.action_runs import LATER, RUNS
from tests.factories import (
    NOON,
    TODAY,
    make_area,
    make_machine,
    make_person,
    make_site,
)
from tests.fleet.passkey_runs import PASSKEY_RUNS
from tests.inspections.scenes import make_scene

ROOT = Path(__file__).resolve().parents[1]
UNJOURNALED = {"cancel_job", "note_token_use", "recover_jobs", "request_job", "retry_job"}  # they write no covered row
# What changes no tracked row: readings have a history of their own, jobs, tokens and uploads an owner and
# times, amendments, judgements and procedure versions are only ever added, plans of a year are proposals.
NOT_TRACKED = {
    "Entry", "add_to_test_set", "amend_inspection", "begin_all_called_for", "begin_as_left", "begin_versions",
    "choose_test_set", "clear_reading", "confirm_reading", "draft_signature", "enter_meant", "enter_reading",
    "enter_readings_of_file", "store_fleet_choice", "weigh_review", "judge_criterion", "load_procedures",
    "note_token_use", "record_user_check", "put_start_away", "show_start_again",
    "reasons_against_signing", "compute_year", "propose_year", "undo_as_left",
}  # fmt: skip


@pytest.fixture
def by(db):
    return make_person("planner")


@pytest.fixture
def scene(tmp_path):
    return make_scene(tmp_path)


def contents():
    """Return the content of the tracked rows: model -> key -> field -> value."""
    rows = {}
    for model, tracked in tracked_models().items():
        plain = [name for name in tracked.fields if not model._meta.get_field(name).many_to_many]
        rows[tracked.label] = {row.pop("pk"): row for row in model._base_manager.values("pk", *plain)}
        for name in set(tracked.fields) - set(plain):
            for row in model._base_manager.all():
                rows[tracked.label][row.pk][name] = set(getattr(row, name).values_list("pk", flat=True))
    return rows


@pytest.mark.real_journal
@pytest.mark.parametrize("name", sorted(RUNS))
def test_an_action_leaves_an_entry_and_journals_every_row_that_it_writes(request, db, name):
    """Only actions are journaled here: what an action writes outside of the journal shows as altered or inserted."""
    with history():
        with acting("test"):
            by, scene = (request.getfixturevalue(name) for name in ("by", "scene"))
            run = RUNS[name](by, scene)
            next(run)
            ChangeEntry.objects.all().delete()
        before, links = contents(), JournalLink.objects.count()
        assert next(run, "done") == "done"
    changed = {
        (label, pk) for label, rows in contents().items() for pk, row in rows.items() if before[label].get(pk) != row
    }
    entries = {(entry.row, entry.row_pk) for entry in ChangeEntry.objects.all()}
    assert entries and changed <= entries
    assert changed or name in PASSKEY_RUNS  # no record of its own: the entry stands with the person
    assert list(compare_all()) == []  # and every machine's current state is renewed
    of_journal = [one for one in verify_store() if one.inspection is None]
    assert of_journal == [] and JournalLink.objects.count() > links


def test_no_module_calls_an_action_past_its_journal():
    """A module that was imported while the actions were would hold a function that nothing journals."""
    actions = [vars(fleet.actions)[name] for name in fleet.actions.__all__]
    actions += [vars(inspections.actions)[name] for name in inspections.actions.__all__]
    actions += [vars(room)[name] for room in (uploads, answering, waiting) for name in room.ACTIONS]
    bare = {one.__wrapped__ for one in actions if hasattr(one, "__wrapped__")}
    past = [
        f"{name}.{key}"
        for name, module in sys.modules.items()
        if name.split(".")[0] in ("config", "fleet", "inspections") and ".actions" not in name
        for key, value in vars(module).items()
        if callable(value) and getattr(value, "__hash__", None) and value in bare
    ]
    assert past == []
    assert len(bare) > 40


def test_the_runs_cover_every_action_that_changes_a_tracked_row():
    through = {  # these change rows through an action that is run here
        "book_inspections", "confirm_upload", "import_register", "plan_retest", "register_machines",
        "record_feature_state", "return_machine_to_service", "end_limit_override", "remove_second_factor",
        "password_link", "set_up_second_factor",
    }  # fmt: skip
    known = set(RUNS) | through | NOT_TRACKED
    proposing = {"decide", "confirm_proposal", "decline_proposal", "take_back_proposal"}
    of_machines_and_work = (
        proposing
        | set(inspections.actions.__all__)
        | {
            name
            for name in (*fleet.actions.__all__, *uploads.ACTIONS)
            if not name.endswith(("_job", "_jobs", "_token", "_upload", "_digest"))
        }
    )
    assert of_machines_and_work - known <= {"settle_contest", "say_how_to_read"}


def test_an_entry_says_who_when_before_and_after_in_words(by):
    area, other = make_area(), make_area()
    machine = make_machine(area=area)
    fleet.actions.correct_machine(machine, area=other, serial="S-9", by=by, at=LATER)
    entry = changes_of("machine", machine.pk).first()
    assert (entry.by, entry.at) == (by, LATER)
    assert entry.before == {"Area": str(area), "Serial": ""}
    assert entry.after == {"Area": str(other), "Serial": "S-9"}


def test_a_protection_recorded_anew_is_told_with_the_machine(by):
    machine = make_machine(features={"o2-analyser": "fitted"})
    record_feature_state(machine, "o2-analyser", "not fitted", from_date=TODAY, evidence="seen", by=by, at=LATER)
    entry = changes_of("machine", machine.pk).first()
    assert entry.before["State"] == "fitted" and entry.after["State"] == "not fitted"


def test_what_is_refused_leaves_no_entry(by):
    machine = make_machine()
    withdraw_machine(machine, by=by, at=NOON, reason="Old")
    told = ChangeEntry.objects.count()
    with pytest.raises(Exception, match="can become withdrawn"):
        withdraw_machine(machine, by=by, at=LATER, reason="Again")
    assert ChangeEntry.objects.count() == told


def test_a_change_that_changes_nothing_leaves_no_entry(by):
    site = make_site(name="North")
    fleet.actions.change_site(site, name="North", by=by, at=LATER)
    assert not ChangeEntry.objects.exists()
