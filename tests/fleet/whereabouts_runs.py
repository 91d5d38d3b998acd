"""A loan of a machine, and how each action on where machines are is run in tests/test_changes.py."""

from datetime import timedelta

import fleet.actions as actions
from tests.factories import NOON, TODAY, make_area, make_away, make_machine

LATER = NOON + timedelta(days=1)
WHO = {"at": LATER}
RETURN = TODAY + timedelta(days=30)

WHEREABOUTS_RUNS = {
    "move_machine": (
        lambda by: (make_machine(by=by), make_area()),
        lambda o, by: actions.move_machine(o[0], area=o[1], on=TODAY, evidence="Seen there", by=by, **WHO),
    ),
    "send_away": (lambda by: make_machine(by=by), lambda machine, by: make_away(machine, by=by, **WHO)),
    "expect_back": (
        lambda by: make_away(make_machine(by=by), by=by),
        lambda away, by: actions.expect_back(away, expected_on=RETURN, note="Parts are late", by=by, **WHO),
    ),
    "take_back": (
        lambda by: make_away(make_machine(by=by), by=by),
        lambda away, by: actions.take_back(away, returned_on=TODAY, by=by, **WHO),
    ),
}
