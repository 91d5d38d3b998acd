"""How each action of attached files is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from inspections.actions import attach_file, withdraw_attachment
from tests.factories import NOON, make_machine
from tests.inspections.attachments.rows import accepted, attach

AT = NOON + timedelta(days=1)


def _attached(by):
    return attach(by, machine=make_machine(by=by))


ATTACHMENT_RUNS = {
    "attach_file": (
        lambda by: make_machine(),
        lambda o, by: attach_file(accepted(), title="Letter", machine=o, by=by, at=AT),
    ),
    "withdraw_attachment": (_attached, lambda o, by: withdraw_attachment(o, reason="Other machine", by=by, at=AT)),
}
