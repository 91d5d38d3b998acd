"""A version begins on its date, what is in progress keeps its own, and files stay beside what was written here."""

from datetime import timedelta

import pytest
import time_machine

from inspections.actions import (
    begin_draft,
    begin_versions,
    change_draft_head,
    load_procedures,
    open_inspection,
    plan_due_inspections,
    plan_inspection,
)
from inspections.errors import ProcedureError, Refused
from inspections.models import Inspection, Procedure, ProcedureVersion
from inspections.procedure_editing.step_edits import empty_procedure
from inspections.procedure_editing.written_form import toml_text, written_form
from inspections.proposals import ApprovingProcedure, confirm_proposal, decide
from tests.factories import NOON, TODAY, make_machine, make_person, make_procedure
from tests.inspections.draft_scene import AT, LOOK, NEXT_WEEK, approved, make_written, propose
from tests.inspections.views.drafting import TEXT


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def written(db, tmp_path):
    return make_written(tmp_path)


def opened(machine, procedure, by, at=NOON):
    inspection = plan_inspection(machine, procedure, due_on=TODAY, by=by, at=at)
    open_inspection(inspection, by=by, at=at)
    return inspection


def test_a_version_begins_on_its_date_and_what_is_in_progress_keeps_its_own(written):
    technician, machine = make_person("technician"), make_machine()
    version = approved(written, from_date=NEXT_WEEK)
    assert written.procedure.current_version() == written.version
    assert written.procedure.current_version(NEXT_WEEK - timedelta(days=1)) == written.version
    assert written.procedure.current_version(NEXT_WEEK) == version
    before = opened(machine, written.procedure, technician)
    assert before.version == written.version and before.steps.get(code="alarm").content["item"] == "The alarm sounds."
    then = NOON + timedelta(days=7)
    with time_machine.travel(then, tick=False):
        after = opened(make_machine(), written.procedure, technician, at=then)
        before.refresh_from_db()
        assert (before.version, after.version) == (written.version, version)
        assert after.steps.get(code="alarm").content["item"] == "The alarm is loud."
        assert list(ProcedureVersion.objects.newest()) == [version]


def test_title_and_interval_change_on_the_day_on_which_the_version_begins(written):
    head = {"title": "Long inspection", "interval_months": 18, "window_days": 40}
    change_draft_head(written.draft, head, by=written.writer, **AT)
    written.draft.refresh_from_db()
    confirm_proposal(propose(written, from_date=NEXT_WEEK), by=written.other, **AT)
    begin_versions(on=TODAY)
    written.procedure.refresh_from_db()
    assert written.procedure.interval_months == 12
    begin_versions(on=NEXT_WEEK)
    written.procedure.refresh_from_db()
    now = written.procedure
    assert (str(now), now.interval_months, now.window_days) == ("Long inspection", 18, 40)


def test_a_new_procedure_is_planned_from_its_first_day(db):
    writer, other, machine = make_person("planner"), make_person("planner"), make_machine()
    content = {**empty_procedure("monthly", "Monthly"), "interval_months": 1, "step": [LOOK]}
    draft = begin_draft(content, by=writer, **AT)
    proposal = decide(ApprovingProcedure(draft, from_date=NEXT_WEEK), reason="New", by=writer, **AT)
    confirm_proposal(proposal, by=other, **AT)
    monthly = Procedure.objects.get(code="monthly")
    plan_due_inspections(today=TODAY, at=NOON)
    assert not Inspection.objects.filter(procedure=monthly).exists()
    inspection = plan_inspection(machine, monthly, due_on=NEXT_WEEK, by=writer, at=NOON)
    with pytest.raises(ProcedureError, match="“Monthly” begins on"):
        open_inspection(inspection, by=make_person("technician"), at=NOON)
    make_machine()
    plan_due_inspections(today=NEXT_WEEK, at=NOON + timedelta(days=7))
    assert Inspection.objects.filter(procedure=monthly).count() == 2


def test_a_date_in_the_past_is_refused_also_when_the_approval_came_late(written):
    written.draft.refresh_from_db()
    proposal = propose(written)
    with pytest.raises(Refused, match="is in the past. Accepted: 3 Nov 2026 or a later day"):
        confirm_proposal(proposal, by=written.other, at=NOON + timedelta(days=1))


def test_a_version_that_would_never_be_in_force_is_refused(written):
    approved(written, from_date=NEXT_WEEK)
    version = written.version
    draft = begin_draft(written_form(version.content), procedure=written.procedure, by=written.writer, **AT)
    with pytest.raises(Refused, match="would never be in force. Enter 9 Nov 2026 or a later day"):
        decide(ApprovingProcedure(draft, from_date=TODAY), reason="Sooner", by=written.writer, **AT)


def test_a_file_loaded_again_does_not_replace_what_the_department_wrote(written):
    version = approved(written)
    assert load_procedures(written.folder, **AT) == []
    assert written.procedure.current_version() == version


def test_a_changed_file_begins_at_once_unless_own_versions_are_to_be_kept(written):
    approved(written)
    changed = TEXT.replace("The alarm sounds.", "It sounds.")
    (written.folder / "procedure.toml").write_text(changed, encoding="utf-8")
    assert load_procedures(written.folder, keep_own=True, **AT) == []
    [loaded] = load_procedures(written.folder, **AT)
    assert (loaded.number, loaded.from_date, loaded.is_own) == (3, None, False)
    assert written.procedure.current_version() == loaded


def test_a_file_loaded_before_an_approved_version_begins_takes_its_place(written):
    approved(written, from_date=NEXT_WEEK)
    loaded = make_procedure(TEXT.replace("alarm sounds", "sound is there"), directory=written.folder).current_version()
    assert written.procedure.current_version(NEXT_WEEK) == loaded
    assert Procedure.objects.with_newest_version(TODAY).get().next_number is None
    draft = begin_draft(written_form(loaded.content), procedure=written.procedure, by=written.writer, **AT)
    assert decide(ApprovingProcedure(draft, from_date=TODAY), reason="Sooner", by=written.writer, **AT).is_waiting


def test_what_is_exported_is_loaded_as_the_version_that_it_is(written):
    version = approved(written)
    (written.folder / "procedure.toml").write_text(toml_text(written_form(version.content)), encoding="utf-8")
    assert load_procedures(written.folder, **AT) == []
