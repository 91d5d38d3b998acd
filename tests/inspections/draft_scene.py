"""A draft of a new version, its procedure, and three planners, the first of whom writes."""

from datetime import timedelta
from types import SimpleNamespace

from inspections.actions import (
    change_draft_step,
)
from inspections.procedure_editing.step_edits import find_step, order_of
from inspections.proposals import ApprovingProcedure, confirm_proposal, decide
from tests.factories import NOON, TODAY, make_person
from tests.inspections.views.drafting import make_draft

LOOK = {"code": "look", "title": "Look", "test": "observation", "item": "All is whole."}
NEXT_WEEK = TODAY + timedelta(days=7)
AT = {"at": NOON}


def make_written(folder):
    writer, other, third = (make_person("planner") for _ in range(3))
    draft = make_draft(writer, folder)
    return SimpleNamespace(
        writer=writer,
        other=other,
        third=third,
        procedure=draft.procedure,
        version=draft.based_on,
        draft=draft,
        folder=folder,
    )


def step_of(draft, code):
    draft.refresh_from_db()
    return find_step(draft.content, code)


def order(draft):
    draft.refresh_from_db()
    return order_of(draft.content)


def propose(written, *, by=None, from_date=TODAY):
    act = ApprovingProcedure(written.draft, from_date=from_date)
    return decide(act, reason="Committee of November", by=by or written.writer, **AT)


def approved(written, *, from_date=TODAY):
    """Change a step, propose the draft, and have it approved; return the new version."""
    step = {**step_of(written.draft, "alarm"), "item": "The alarm is loud."}
    change_draft_step(written.draft, "alarm", step, by=written.writer, **AT)
    written.draft.refresh_from_db()
    confirm_proposal(propose(written, from_date=from_date), by=written.other, **AT)
    written.draft.refresh_from_db()
    return written.draft.version
