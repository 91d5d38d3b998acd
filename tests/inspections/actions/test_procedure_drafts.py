"""A draft is written by several people, approved by another one, and begins on its date."""

import pytest
import time_machine

from fleet.changes import changes_of
from inspections.actions import (
    add_draft_steps,
    approve_draft,
    begin_draft,
    change_draft_head,
    change_draft_step,
    change_not_tested,
    discard_draft,
    import_draft,
    move_draft_step,
    remove_draft_step,
)
from inspections.errors import DraftContested, ProcedureError, Refused, SecondPersonNeeded
from inspections.models import ProcedureDraft, ProcedureVersion, Proposal
from inspections.procedure_editing.step_edits import empty_procedure, head_of, token_of
from inspections.procedure_editing.written_form import toml_text, written_form
from inspections.proposals import confirm_proposal, decline_proposal, take_back_proposal
from tests.factories import NOON, TODAY, make_person, make_procedure
from tests.inspections.draft_scene import AT, LOOK, approved, make_written, order, propose, step_of
from tests.inspections.views.drafting import TEXT


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def written(db, tmp_path):
    return make_written(tmp_path)


# --- writing ---


def test_steps_are_added_moved_changed_and_removed(written):
    by = {"by": written.writer, **AT}
    add_draft_steps(written.draft, [LOOK], after="supply-failure", **by)
    assert order(written.draft) == ["supply-failure", "look", "alarm", "flush"]
    move_draft_step(written.draft, "look", "down", **by)
    move_draft_step(written.draft, "flush", "up", **by)
    remove_draft_step(written.draft, "alarm", **by)
    assert order(written.draft) == ["supply-failure", "flush", "look"]
    change_draft_step(written.draft, "look", {**LOOK, "title": "Look closely"}, **by)
    assert step_of(written.draft, "look")["title"] == "Look closely"


def test_the_ends_of_the_list_stay_where_they_are(written):
    move_draft_step(written.draft, "supply-failure", "up", by=written.writer, **AT)
    move_draft_step(written.draft, "flush", "down", by=written.writer, **AT)
    assert order(written.draft) == ["supply-failure", "alarm", "flush"]


def test_the_changes_of_a_draft_say_what_each_field_was(written):
    step = {**step_of(written.draft, "alarm"), "item": "The alarm is loud.", "essential": True}
    change_draft_step(written.draft, "alarm", step, by=written.writer, **AT)
    entry = changes_of("procedure-draft", written.draft.pk).first()
    assert entry.by == written.writer
    assert entry.before["Step “Oxygen supply alarm” (alarm): statement"] == "The alarm sounds."
    assert entry.after["Step “Oxygen supply alarm” (alarm): statement"] == "The alarm is loud."
    assert entry.after["Step “Oxygen supply alarm” (alarm): essential"] == "yes"


@pytest.mark.parametrize(
    "fields, says",
    [
        ({"feature": "no-such"}, "Step 2 .alarm.: feature = “no-such” is not in the catalogue. Accepted: "),
        ({"needs": ["no-such"]}, "Step 2 .alarm.: needs = .*Accepted: "),
        ({"title": " "}, "Step 2 .alarm.: title = “ ” is not accepted. Accepted: a text"),
        ({"code": "flush"}, "Step 2 .alarm.: code “flush” is used by another step"),
        ({"code": "a b"}, "Step 2 .alarm.: code = .*letters, digits"),
        ({"test": "no-such"}, "Step 2 .alarm.: There is no bench test"),
        ({"limit": [{"key": "seen"}]}, "Step 2 .alarm.: basis, rule, source, title, unit is missing"),
        ({"conditional": "maybe"}, "Accepted: finding, remark"),
    ],
)
def test_a_step_that_cannot_be_is_refused_with_field_and_what_is_accepted(written, fields, says):
    step = step_of(written.draft, "alarm")
    with pytest.raises(ProcedureError, match=says):
        change_draft_step(written.draft, "alarm", {**step, **fields}, by=written.writer, **AT)
    assert step_of(written.draft, "alarm") == step


def test_of_several_steps_of_which_one_is_refused_none_is_added(written):
    with pytest.raises(ProcedureError, match="“flush” already"):
        add_draft_steps(written.draft, [LOOK, {**LOOK, "code": "flush"}], by=written.writer, **AT)
    assert order(written.draft) == ["supply-failure", "alarm", "flush"]


def test_a_new_procedure_takes_no_code_that_is_taken(written):
    with pytest.raises(ProcedureError, match="“yearly” belongs to “Short inspection”"):
        begin_draft(empty_procedure("yearly", "Mine"), by=written.writer, **AT)


def test_the_head_of_a_draft_without_a_step_can_be_written(db):
    by = make_person("planner")
    draft = begin_draft(empty_procedure("monthly", "Monthly"), by=by, **AT)
    change_draft_head(draft, {"title": "Monthly check", "interval_months": 1, "window_days": 5}, by=by, **AT)
    draft.refresh_from_db()
    assert (draft.title, draft.content["interval_months"], draft.content["code"]) == ("Monthly check", 1, "monthly")
    with pytest.raises(ProcedureError, match="interval_months = int 999 is not accepted. Accepted: a whole number"):
        change_draft_head(draft, {"title": "Monthly", "interval_months": 999}, by=by, **AT)


def test_an_imported_file_becomes_a_draft_of_the_procedure_with_its_code(written):
    text = toml_text(written_form(written.version.content)).replace("The alarm sounds.", "The alarm is loud.")
    draft = import_draft(text, name="mine.toml", by=written.other, **AT)
    assert (draft.procedure, draft.based_on) == (written.procedure, written.version)
    assert step_of(draft, "alarm")["item"] == "The alarm is loud."


def test_a_file_that_is_refused_leaves_no_draft(written):
    drafts = ProcedureDraft.objects.count()
    with pytest.raises(ProcedureError, match="bad.toml, step 1"):
        import_draft(
            "code='x'\ntitle='X'\n[[step]]\ncode='one'\ntitle='One'\ntest=5", name="bad.toml", by=written.other, **AT
        )
    assert ProcedureDraft.objects.count() == drafts


# --- two at once ---


def test_two_who_write_in_different_steps_both_succeed(written):
    tokens = {code: token_of(step_of(written.draft, code)) for code in ("alarm", "flush")}
    for code, by in (("alarm", written.writer), ("flush", written.other)):
        step = {**step_of(written.draft, code), "purpose": f"By {by}."}
        change_draft_step(written.draft, code, step, seen=tokens[code], by=by, **AT)
    assert [bool(step_of(written.draft, code).get("purpose")) for code in ("alarm", "flush")] == [True, True]


def test_the_second_who_saves_the_same_step_is_refused_and_nothing_is_lost(written):
    seen = token_of(step_of(written.draft, "alarm"))
    first, second = ({**step_of(written.draft, "alarm"), "item": text} for text in ("Loud.", "Shrill."))
    change_draft_step(written.draft, "alarm", first, seen=seen, by=written.writer, **AT)
    with pytest.raises(DraftContested, match=f"{written.writer} has meanwhile changed step “Oxygen supply alarm”"):
        change_draft_step(written.draft, "alarm", second, seen=seen, by=written.other, **AT)
    assert step_of(written.draft, "alarm")["item"] == "Loud."


@pytest.mark.parametrize("name", ["head", "order", "not tested", "removed"])
def test_every_other_edit_is_refused_where_its_page_showed_something_else(written, name):
    draft, seen = written.draft, {"seen": "0" * 16, "by": written.other, **AT}
    edits = {
        "head": lambda: change_draft_head(draft, {**head_of(draft.content), "title": "X"}, **seen),
        "order": lambda: move_draft_step(draft, "alarm", "up", **seen),
        "not tested": lambda: change_not_tested(draft, [], **seen),
        "removed": lambda: remove_draft_step(draft, "alarm", **seen),
    }
    with pytest.raises(DraftContested, match="meanwhile changed"):
        edits[name]()


def test_a_step_that_was_removed_meanwhile_is_not_written_back(written):
    step = step_of(written.draft, "alarm")
    remove_draft_step(written.draft, "alarm", by=written.other, **AT)
    with pytest.raises(DraftContested, match="which is removed"):
        change_draft_step(written.draft, "alarm", {**step, "item": "Loud."}, by=written.writer, **AT)
    assert order(written.draft) == ["supply-failure", "flush"]


# --- approval ---


def test_an_approved_draft_is_a_frozen_version_by_two_people(written):
    version = approved(written)
    assert (version.number, version.procedure, version.from_date) == (2, written.procedure, TODAY)
    assert (version.proposed_by, version.approved_by) == (written.writer, written.other)
    assert written.procedure.current_version() == version
    assert version.content["step"][0]["limits"] and version.content["step"][1]["item"] == "The alarm is loud."
    with pytest.raises(TypeError, match="cannot be changed"):
        version.save()


def test_whoever_proposed_it_cannot_approve_it(written):
    proposal = propose(written)
    with pytest.raises(Refused, match="yourself"):
        confirm_proposal(proposal, by=written.writer, **AT)


def test_whoever_wrote_in_it_cannot_approve_it_though_another_proposed(written):
    change_draft_step(written.draft, "alarm", {**LOOK, "code": "alarm"}, by=written.other, **AT)
    written.draft.refresh_from_db()
    proposal = propose(written, by=written.third)
    for writer in (written.writer, written.other):
        with pytest.raises(SecondPersonNeeded, match="You wrote in Draft"):
            confirm_proposal(proposal, by=writer, **AT)
        assert not Proposal.objects.confirmable_by(writer).exists()
        with pytest.raises(SecondPersonNeeded, match="You wrote in Draft"):
            approve_draft(written.draft, from_date=TODAY, proposed_by=written.third, by=writer, **AT)
    assert ProcedureVersion.objects.count() == 1


def test_nobody_approves_alone(written):
    for proposer in (None, written.other):
        with pytest.raises(SecondPersonNeeded, match="Make a proposal"):
            approve_draft(written.draft, from_date=TODAY, proposed_by=proposer, by=written.other, **AT)


def test_somebody_without_the_right_cannot_approve_and_a_manager_can(written):
    proposal = propose(written)
    with pytest.raises(Refused, match="needs a person with the right"):
        confirm_proposal(proposal, by=make_person("technician"), **AT)
    confirm_proposal(proposal, by=make_person("manager"), **AT)
    assert ProcedureVersion.objects.count() == 2


def test_a_draft_that_waits_is_not_changed_until_it_is_declined_or_taken_back(written):
    proposal = propose(written)
    with pytest.raises(Refused, match="waits for approval"):
        remove_draft_step(written.draft, "alarm", by=written.writer, **AT)
    decline_proposal(proposal, reason="Too short", by=written.other, **AT)
    remove_draft_step(written.draft, "alarm", by=written.writer, **AT)
    written.draft.refresh_from_db()
    take_back_proposal(propose(written), by=written.writer, **AT)
    remove_draft_step(written.draft, "flush", by=written.writer, **AT)
    assert order(written.draft) == ["supply-failure"]


def test_a_version_loaded_meanwhile_makes_the_proposal_void(written):
    proposal = propose(written)
    make_procedure(TEXT.replace("The alarm sounds.", "It sounds."), directory=written.folder)
    with pytest.raises(Refused, match="has changed"):
        confirm_proposal(proposal, by=written.other, **AT)


@pytest.mark.parametrize("code, key", [("alarm", "item"), ("supply-failure", "instruction")])
def test_a_draft_with_a_step_without_its_text_is_not_proposed(written, code, key):
    step = {name: value for name, value in step_of(written.draft, code).items() if name != key}
    change_draft_step(written.draft, code, step, by=written.writer, **AT)
    written.draft.refresh_from_db()
    with pytest.raises(Refused, match="write the (statement|instruction)"):
        propose(written)


def test_a_draft_that_tests_what_it_says_it_does_not_test_is_not_proposed(written):
    change_not_tested(written.draft, [{"features": ["o2-supply-alarm"], "reason": "No time."}], by=written.writer, **AT)
    step = {**step_of(written.draft, "alarm"), "feature": "o2-supply-alarm"}
    change_draft_step(written.draft, "alarm", step, by=written.writer, **AT)
    written.draft.refresh_from_db()
    with pytest.raises(Refused, match="o2-supply-alarm is tested by a step. Remove it here"):
        propose(written)


def test_a_discarded_or_approved_draft_is_not_changed_again(written):
    approved(written)
    with pytest.raises(Refused, match="is approved and cannot be changed"):
        discard_draft(written.draft, by=written.writer, **AT)
    other = begin_draft(written_form(written.version.content), procedure=written.procedure, by=written.writer, **AT)
    discard_draft(other, by=written.writer, **AT)
    with pytest.raises(Refused, match="is discarded and cannot be changed"):
        remove_draft_step(other, "alarm", by=written.writer, **AT)
