"""Each action on drafts of procedures as a run for tests/test_changes.py: prepare, yield, act."""

from datetime import timedelta

import inspections.actions as actions
from inspections.procedure_editing.step_edits import empty_procedure, head_of
from inspections.procedure_editing.written_form import toml_text, written_form
from tests.factories import NOON, make_person

LATER = NOON + timedelta(days=1)
NOW = {"at": LATER}
ENTRY = {"features": ["o2-last"], "reason": "It is built in."}
LOOK = {"code": "look", "title": "Look", "test": "observation", "item": "All is whole."}


def draft_of(scene, by):
    content = written_form(scene.procedure.current_version().content)
    content["step"] = [{"instruction": "Do it.", **step} for step in content["step"]]
    return actions.begin_draft(content, procedure=scene.procedure, by=by, at=NOON)


def on_a_draft(act):
    def run(by, scene):
        draft = draft_of(scene, by)
        yield
        act(draft, by)

    return run


def begin_draft(by, scene):
    yield
    actions.begin_draft(empty_procedure("monthly", "Monthly check"), by=by, **NOW)


def import_draft(by, scene):
    text = toml_text(written_form(scene.procedure.current_version().content))
    yield
    actions.import_draft(text, name="file.toml", by=by, **NOW)


def approve_draft(by, scene):
    draft = draft_of(scene, make_person("planner"))
    proposer = make_person("planner")
    yield
    actions.approve_draft(draft, from_date=LATER.date(), proposed_by=proposer, by=by, **NOW)


PROCEDURE_RUNS = {
    "begin_draft": begin_draft,
    "import_draft": import_draft,
    "approve_draft": approve_draft,
    "change_draft_head": on_a_draft(
        lambda o, by: actions.change_draft_head(o, {**head_of(o.content), "title": "Shorter"}, by=by, **NOW)
    ),
    "change_not_tested": on_a_draft(lambda o, by: actions.change_not_tested(o, [ENTRY], by=by, **NOW)),
    "add_draft_steps": on_a_draft(lambda o, by: actions.add_draft_steps(o, [LOOK], by=by, **NOW)),
    "change_draft_step": on_a_draft(
        lambda o, by: actions.change_draft_step(o, "alarm", {**LOOK, "code": "alarm"}, by=by, **NOW)
    ),
    "move_draft_step": on_a_draft(lambda o, by: actions.move_draft_step(o, "alarm", "up", by=by, **NOW)),
    "remove_draft_step": on_a_draft(lambda o, by: actions.remove_draft_step(o, "alarm", by=by, **NOW)),
    "discard_draft": on_a_draft(lambda o, by: actions.discard_draft(o, by=by, **NOW)),
}
