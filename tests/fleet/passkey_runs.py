"""How each action of passkeys is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from fleet.actions import remove_passkey, rename_passkey
from tests.factories import NOON, make_person
from tests.passkeys import give_passkey

AT = NOON + timedelta(days=1)


def with_passkey(by):
    give_passkey(by)
    return by.passkeys.get()


PASSKEY_RUNS = {
    "add_passkey": (lambda by: make_person("technician"), lambda person, by: give_passkey(person, at=AT)),
    "rename_passkey": (with_passkey, lambda passkey, by: rename_passkey(passkey, name="Phone", by=by, at=AT)),
    "remove_passkey": (with_passkey, lambda passkey, by: remove_passkey(passkey, by=by, at=AT)),
}
