"""How each action of attached files is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from inspections.actions import attach_file, remove_attachment_content, withdraw_attachment
from tests.factories import NOON, make_machine
from tests.inspections.attachments.rows import accepted, attach

AT = NOON + timedelta(days=1)


def _attached(by):
    return attach(by, machine=make_machine(by=by))


def _withdrawn(by):
    attachment = _attached(by)
    withdraw_attachment(attachment, reason="A patient is seen", by=by, at=NOON)
    return attachment


ATTACHMENT_RUNS = {
    "attach_file": (
        lambda by: make_machine(),
        lambda o, by: attach_file(accepted(), title="Letter", machine=o, by=by, at=AT),
    ),
    "withdraw_attachment": (_attached, lambda o, by: withdraw_attachment(o, reason="Other machine", by=by, at=AT)),
    "remove_attachment_content": (
        _withdrawn,
        lambda o, by: remove_attachment_content(o, reason="A patient is seen", never_should_be=True, by=by, at=AT),
    ),
}
