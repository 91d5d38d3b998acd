"""Add, rename and remove the passkeys with which a person signs. Each leaves an entry in the changes of the account."""

from django.db import IntegrityError, transaction

from fleet.actions.people import refuse_foreign
from fleet.changes import record_change
from fleet.errors import PersonRefused
from fleet.models import Passkey, Person

MOST_PASSKEYS = 20  # of one person


@transaction.atomic
def add_passkey(person, *, name, credential, public_key, sign_count, at):
    """Store a passkey that a device of `person` made. Raise PersonRefused for a name or a device that is known."""
    Person.objects.select_for_update(no_key=True).only("pk").get(pk=person.pk)
    own = Passkey.objects.filter(person=person)
    if own.count() >= MOST_PASSKEYS:
        raise PersonRefused(f"You have {MOST_PASSKEYS} passkeys, which is the most. Remove one that you do not use.")
    _refuse_known_name(own, name)
    try:
        with transaction.atomic():
            passkey = Passkey.objects.create(
                person=person,
                name=name,
                credential=credential,
                public_key=public_key,
                sign_count=sign_count,
                added_at=at,
            )
    except IntegrityError:
        raise PersonRefused("This device's passkey is registered already. Use another device.") from None
    _record(passkey, by=person, at=at, before="none", after="registered")
    return passkey


@transaction.atomic
def rename_passkey(passkey, *, name, by, at):
    """Give one's own passkey another name. Raise PersonRefused for somebody else's, and for a name in use."""
    if passkey.person_id != by.pk:
        raise PersonRefused(f"The passkey “{passkey}” belongs to {passkey.person}; only that person can rename it.")
    _refuse_known_name(Passkey.objects.filter(person=by).exclude(pk=passkey.pk), name)
    was = passkey.name
    passkey.name = name
    passkey.save(update_fields=["name"])
    record_change(by, by=by, at=at, before={"Passkey": was}, after={"Passkey": name})


@transaction.atomic
def remove_passkey(passkey, *, by, at):
    """Remove a passkey: its owner, or whoever manages the account. What was signed with it stays signed."""
    if passkey.person_id != by.pk:
        refuse_foreign(passkey.person, by)
    removed, _ = Passkey.objects.filter(pk=passkey.pk).delete()
    if not removed:
        raise PersonRefused(f"The passkey “{passkey}” is removed already.")
    _record(passkey, by=by, at=at, before="registered", after="removed")


def _refuse_known_name(others, name):
    if others.filter(name=name).exists():
        raise PersonRefused(f"You already have a passkey called “{name}”. Enter another name.")


def _record(passkey, *, by, at, before, after):
    what = f"Passkey “{passkey}”"
    record_change(passkey.person, by=by, at=at, before={what: before}, after={what: after})
