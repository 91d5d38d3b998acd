"""Write drafts of procedures, and approve them. Each edit is one transaction under the lock of the draft.

Two people may write in one draft: an edit says what its page showed of the step, of the order or of the head, and is
refused only where somebody changed just that meanwhile.
"""

from django.db import transaction
from django.utils import timezone

from fleet.changes import record_change, record_created, recording
from inspections.at_bench.procedure_files import (
    check_head,
    freeze_step,
    parse_procedure,
    read_shared_steps,
    where_of_step,
)
from inspections.at_bench.procedure_shape import OF_ENTRY, OF_PROCEDURE, check_shape
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import DraftContested, ProcedureError, Refused
from inspections.models import DraftWriter, Procedure, ProcedureDraft
from inspections.procedure_editing.comparison import changes_in_words
from inspections.procedure_editing.draft_checks import shown_content
from inspections.procedure_editing.step_edits import (
    HEAD_KEYS,
    find_step,
    head_of,
    number_of,
    order_of,
    token_of,
    with_added,
    with_moved,
    with_replaced,
    without,
)

State = ProcedureDraft.State


@transaction.atomic
def begin_draft(content, *, by, at, procedure=None, based_on=None):
    """Store a new draft: of a new version of `procedure`, or of a new procedure with the code in `content`.

    content   what a procedure file says; it may lack steps
    based_on  the version that it was copied from

    Raise ProcedureError for a code that is taken or no code, and for a title that cannot be one.
    """
    code = procedure.code if procedure else content["code"]
    if procedure is None:
        refuse_taken(code)
    check_shape({"code": code, "title": content["title"]}, OF_PROCEDURE, "New procedure")
    people = {"made_by": by, "made_at": at, "changed_by": by, "changed_at": at}
    draft = ProcedureDraft.objects.create(
        procedure=procedure, code=code, based_on=based_on, content={**content, "code": code}, **people
    )
    record_change(draft, by=by, at=at, before={}, after=_begun_in_words(draft))
    _note_writer(draft, by, at)
    return draft


@transaction.atomic
def import_draft(text, *, name, by, at):
    """Store a draft of what a procedure file says. Raise ProcedureError naming file, step and what is accepted.

    It becomes a new version of the procedure with the same code, if there is one.
    """
    content = parse_procedure(text, name=name, shared=read_shared_steps())
    check_draft_content(content, name)
    procedure = Procedure.objects.filter(code=content["code"]).first()
    based_on = procedure.current_version(timezone.localdate(at)) if procedure else None
    return begin_draft(content, procedure=procedure, based_on=based_on, by=by, at=at)


@transaction.atomic
def change_draft_head(draft, head, *, by, at, seen=NOT_TOLD):
    """Store what the procedure says of itself: title, purpose, interval, window and cautions.

    seen  token_of the head that the page showed
    """
    held = _held(draft)
    _refuse_unseen(held, head_of(held.content), seen, "the head of the procedure")
    kept = {key: value for key, value in held.content.items() if key not in HEAD_KEYS}
    content = {**head, **kept}
    _check_written(content)
    _store(held, content, "Head", by=by, at=at)


@transaction.atomic
def change_not_tested(draft, entries, *, by, at, seen=NOT_TOLD):
    """Store which safety features the procedure does not test, with the reason of each.

    seen  token_of the entries that the page showed
    """
    held = _held(draft)
    _refuse_unseen(held, held.content.get("not_tested_here", []), seen, "what is not tested")
    rest = {key: value for key, value in held.content.items() if key != "not_tested_here"}
    content = rest | ({"not_tested_here": entries} if entries else {})
    _check_written(content)
    for entry in entries:
        check_shape(entry, OF_ENTRY, "Not tested here")
    _store(held, content, "Not tested here", by=by, at=at)


@transaction.atomic
def add_draft_steps(draft, steps, *, by, at, after=None):
    """Add steps after the one with the code `after`, at the end without one. Raise ProcedureError for a taken code."""
    held = _held(draft)
    for step in steps:
        freeze_step(step, f"New step ({step['code']})")
    content = {**held.content, "step": with_added(held.content["step"], steps, after=after)}
    _store(held, content, f"Added: {', '.join(step['title'] for step in steps)}", by=by, at=at)


@transaction.atomic
def change_draft_step(draft, code, step, *, by, at, seen=NOT_TOLD):
    """Store a step as it is written now. Raise ProcedureError naming step, field and what is accepted.

    seen  token_of the step that the page showed
    """
    held = _held(draft)
    there = _step_of(held, code)
    where = f"Step {number_of(held.content, code)} ({code})"
    _refuse_unseen(held, there, seen, f"step “{there['title']}”", shown=step)
    freeze_step(step, where)
    if step["code"] != code and find_step(held.content, step["code"]):
        raise ProcedureError(f"{where}: code “{step['code']}” is used by another step. Give each step its own.")
    content = {**held.content, "step": with_replaced(held.content["step"], code, step)}
    _store(held, content, f"{where}: {step['title']}", by=by, at=at)


@transaction.atomic
def move_draft_step(draft, code, direction, *, by, at, seen=NOT_TOLD):
    """Move a step one place "up" or "down".

    seen  token_of the order that the page showed
    """
    held = _held(draft)
    there = _step_of(held, code)
    _refuse_unseen(held, order_of(held.content), seen, "the order of the steps")
    content = {**held.content, "step": with_moved(held.content["step"], code, direction)}
    _store(held, content, f"Moved {direction}: {there['title']}", by=by, at=at)


@transaction.atomic
def remove_draft_step(draft, code, *, by, at, seen=NOT_TOLD):
    """Remove a step; the changes of the draft hold what it said.

    seen  token_of the step that the page showed
    """
    held = _held(draft)
    there = _step_of(held, code)
    _refuse_unseen(held, there, seen, f"step “{there['title']}”")
    content = {**held.content, "step": without(held.content["step"], code)}
    _store(held, content, f"Removed: {there['title']}", by=by, at=at)


@transaction.atomic
def discard_draft(draft, *, by, at):
    """Give a draft up. It stays readable."""
    held = _held(draft)
    with recording(held, by=by, at=at):
        ProcedureDraft.objects.filter(pk=held.pk).update(state=State.DISCARDED, changed_by=by, changed_at=at)


def _begun_in_words(draft):
    """What a new draft is, without its whole content: later changes hold what each field said before."""
    return {
        "Title": draft.title,
        "Code": draft.code,
        "Procedure": str(draft.procedure or "a new one"),
        "Copied from": str(draft.based_on or "nothing"),
        "Steps": ", ".join(order_of(draft.content)),
    }


def check_draft_content(content, name):
    """Raise ProcedureError for what no draft may hold: a head or a step that a file could not have either."""
    check_head(content, name)
    codes = order_of({"step": [{"code": step.get("code")} for step in content["step"]]})
    for number, step in enumerate(content["step"], start=1):
        where = where_of_step(name, number, step)
        freeze_step(step, where)
        if codes.count(step["code"]) > 1:
            raise ProcedureError(f"{where}: the code is used twice. Give each step its own.")


def _check_written(content):
    """Check the head of a draft, which may have no step yet."""
    check_head(content if content["step"] else {**content, "step": [{}]}, "Procedure")


def refuse_taken(code):
    """Raise ProcedureError if a procedure has the code already."""
    if taken := Procedure.objects.filter(code=code).first():
        raise ProcedureError(
            f"The code “{code}” belongs to “{taken}”. Give the new procedure another, or copy a version of that one."
        )


def _held(draft):
    """Lock the draft until the transaction ends, as it is now. Raise Refused for one that is not being written."""
    held = ProcedureDraft.objects.select_for_update(no_key=True).get(pk=draft.pk)
    if not held.is_being_written:
        raise Refused(f"{held} is {held.get_state_display().lower()} and cannot be changed. Copy it into a new draft.")
    waiting = held.proposals.waiting().select_related("proposed_by").first()
    if waiting:
        raise Refused(
            f"{held} waits for approval, as {waiting.proposed_by} proposed. It can be changed again once the proposal "
            "is declined or taken back."
        )
    return held


def _step_of(held, code):
    step = find_step(held.content, code)
    if step is None:
        raise DraftContested(held, f"step “{code}”, which is removed")
    return step


def _refuse_unseen(held, piece, seen, name, shown=None):
    """Raise DraftContested unless the page showed the piece as it is; what is stored already is no conflict."""
    if seen is NOT_TOLD or seen == token_of(piece) or (shown is not None and shown == piece):
        return
    raise DraftContested(held, name)


def _store(held, content, about, *, by, at):
    if content == held.content:
        return
    before, after = changes_in_words(shown_content(held.content), shown_content(content))
    ProcedureDraft.objects.filter(pk=held.pk).update(content=content, changed_by=by, changed_at=at)
    _note_writer(held, by, at)
    record_change(held, by=by, at=at, before=before, after=after, about=about[:200])


def _note_writer(draft, by, at):
    writer, is_new = DraftWriter.objects.get_or_create(draft=draft, person=by, defaults={"since": at})
    if is_new:
        record_created([writer], by=by, at=at)
