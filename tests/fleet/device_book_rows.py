"""Software and an instruction of a machine, and how each action on them is run in tests/test_changes.py."""

from datetime import timedelta

import fleet.actions as actions
from tests.factories import NOON, TODAY, make_machine

LATER = NOON + timedelta(days=1)
SAID = {"held_on": TODAY, "instructor": "Ida Roth, Test works", "topics": "Check before use, alarms"}


def make_software(machine, by=None, *, at=NOON, **fields):
    usual = {"part": "ventilator", "version": "4.21", "installed_on": TODAY, "source": "Service report 77"}
    return actions.record_software(machine, by=by, at=at, **usual | fields)


def instruct(machine, *names, by=None, at=NOON, **fields):
    return actions.instruct_users(machine, names or ["Mara Lind"], by=by, at=at, **SAID | fields)


def make_device_book_rows(machine, by, mark="Row"):
    """A row of each; of the instructions one on the model in the area. Return the version."""
    instruct(machine, f"{mark} Lind", by=by, topics=f"{mark} alarms", reference=f"{mark} list")
    instruct(machine, f"{mark} Olsen", by=by, whole_area=True, instructor=f"{mark} works")
    return make_software(machine, by, source=f"{mark} report 77")


DEVICE_BOOK_RUNS = {
    "record_software": (lambda by: make_machine(by=by), lambda o, by: make_software(o, by, at=LATER)),
    "instruct_users": (lambda by: make_machine(by=by), lambda o, by: instruct(o, by=by, at=LATER)),
    "withdraw_book_record": (
        lambda by: make_software(make_machine(by=by), by),
        lambda o, by: actions.withdraw_book_record(o, reason="Other machine", by=by, at=LATER),
    ),
}
