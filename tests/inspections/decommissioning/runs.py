"""How the actions at the end of a machine are run in tests/test_changes.py, and rows of them."""

from datetime import timedelta

from fleet.actions import retire_machine
from inspections.actions import answer_decommissioning_item, record_device_books
from inspections.device_book.archive import MadeBook
from tests.factories import NOON, make_machine
from tests.inspections.attachments.rows import accepted

AT = NOON + timedelta(days=1)


def retired(by, **fields):
    machine = make_machine(by=by, **fields)
    retire_machine(machine, reason="Too old", by=by, at=NOON)
    return machine


def answer(machine, by, code="data", *, state="done", at=AT, **said):
    return answer_decommissioning_item(machine, code, state=state, by=by, at=at, **said)


def made_book(machine):
    return MadeBook(machine, "0" * 64, 2, 3)


def make_decommissioning_rows(machine, by, mark="Row"):
    """An answer with a proof on a retired machine, and a device book."""
    answer(machine, by, "cleaned", words=f"{mark} hygiene", file=accepted(f"{mark} certificate"), at=NOON)
    record_device_books([made_book(machine)], by=by, at=NOON)


DECOMMISSIONING_RUNS = {
    "answer_decommissioning_item": (
        retired, lambda o, by: answer(o, by, "cleaned", words="By hygiene", file=accepted("Proof")),
    ),
    "record_device_books": (
        lambda by: make_machine(by=by), lambda o, by: record_device_books([made_book(o)], by=by, at=AT),
    ),
}  # fmt: skip
