"""Answer an item of the checklist at the end of a machine, and correct the answer."""

from django.db import IntegrityError, transaction

from fleet.changes import record_created, recording
from fleet.models import MachineStatus
from inspections.actions.attachments import attach_file
from inspections.decommissioning.checklist import ITEMS, ROUTES
from inspections.errors import DecommissioningRefused
from inspections.models import Attachment, DecommissioningAnswer

State = DecommissioningAnswer.State
OVERTAKEN = (
    "Somebody has answered “{title}” meanwhile. Nothing of yours was saved. Open the item again, and change the answer "
    "if needed."
)


@transaction.atomic
def answer_decommissioning_item(machine, code, *, state, words="", route="", file=None, seen="", by, at):
    """Store the answer to an item; an earlier one is replaced, and the changes of the machine hold it.

    file  an AcceptedFile as proof, None to keep the proof that is there
    seen  `at` of the answer that the page showed, as ISO text; empty where it showed none

    Raise DecommissioningRefused for what is not accepted, and if somebody else answered meanwhile.
    """
    item = _item(machine, code)
    words, route = words.strip(), route if item.routes and state == State.DONE else ""
    _check(item, state, words, route)
    stored = DecommissioningAnswer.objects.select_for_update().filter(machine=machine, code=code).first()
    if seen != (stored.at.isoformat() if stored else ""):
        raise DecommissioningRefused(OVERTAKEN.format(title=item.title))
    proof = _proof(machine, item, file, by, at).pk if file else stored and stored.proof_id
    fields = {"state": state, "words": words, "route": route, "proof_id": proof, "by": by, "at": at}
    if stored:
        with recording(stored, by=by, at=at):
            DecommissioningAnswer.objects.filter(pk=stored.pk).update(**fields)
        stored.refresh_from_db()
        return stored
    return _created(item, machine=machine, code=code, **fields)


def _item(machine, code):
    if code not in ITEMS:
        raise DecommissioningRefused(f"There is no item “{code}”. Accepted: {', '.join(ITEMS)}.")
    machine.refresh_from_db(fields=["status"])
    if machine.status == MachineStatus.IN_SERVICE:
        raise DecommissioningRefused(
            f"Machine {machine} is in service. Withdraw it from use or retire it first. Nothing was saved."
        )
    return ITEMS[code]


def _check(item, state, words, route):
    if state not in State.values:
        raise DecommissioningRefused(f"“{state}” is no answer. Accepted: {', '.join(State.values)}.")
    if state == State.NOT_APPLICABLE and not words:
        raise DecommissioningRefused(f"State why “{item.title}” does not apply to this machine. Nothing was saved.")
    if item.routes and state == State.DONE and route not in ROUTES:
        raise DecommissioningRefused(f"Choose where the machine goes: {', '.join(ROUTES.values())}.")


def _proof(machine, item, file, by, at):
    """The file on the machine; one that is attached already proves this item as well."""
    same = Attachment.objects.in_place().filter(machine=machine, received_digest=file.received_digest).first()
    return same or attach_file(file, title=f"Decommissioning: {item.title}", machine=machine, by=by, at=at)


def _created(item, **fields):
    try:
        with transaction.atomic():
            made = DecommissioningAnswer(**fields)
            made.save(force_insert=True)
    except IntegrityError:
        raise DecommissioningRefused(OVERTAKEN.format(title=item.title)) from None
    record_created([made], by=made.by, at=made.at)
    return made
