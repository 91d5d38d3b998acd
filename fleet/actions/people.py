"""Manage accounts: who may sign in, what each may do and where.

`by` is None for a command, which has the administrator's rights; the rules below apply to everybody else.
Nobody gives themselves a group or a site that they do not have, nobody reaches beyond their own sites, and somebody who
may look after every account is always left.
"""

from django.contrib.auth.tokens import default_token_generator
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django_otp import devices_for_user
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.changes import record_change, record_created, recording
from fleet.errors import PersonRefused
from fleet.models import Person
from fleet.people.lockout import forget_wrong_passwords

RECOVERY_CODES = 10


@transaction.atomic
def add_person(*, username, groups=(), sites=(), by, at, **names):
    """Create an account without a password; `password_link` lets the person set one. Raise PersonRefused if taken."""
    try:
        with transaction.atomic():
            person = Person.objects.create_user(username, password=None, **names)
    except IntegrityError:
        raise PersonRefused(f"“{username}” is already in use as a username. Enter another one.") from None
    _refuse_beyond_own_sites(by, sites)
    person.groups.set(groups)
    person.sites.set(sites)
    record_created([person], by=by, at=at)
    return person


@transaction.atomic
def change_person(person, *, groups, sites, by, at, **names):
    """Change a person's name, groups and sites together. Raise PersonRefused for what `by` may not give."""
    refuse_foreign(person, by)
    refuse_closed(person)
    _refuse_beyond_own_sites(by, sites)
    _refuse_more_for_oneself(person, groups, sites, by)
    with recording(person, by=by, at=at), somebody_left(by):
        for name, value in names.items():
            setattr(person, name, value)
        person.save(update_fields=list(names))
        person.groups.set(groups)
        person.sites.set(sites)


@transaction.atomic
def lock_person(person, *, by, at):
    """Lock a person's account; sessions end with their next request. Raise PersonRefused if locked already."""
    refuse_foreign(person, by)
    if by is not None and by.pk == person.pk:
        raise PersonRefused("This is your own account. Another person must lock it.")
    with recording(person, by=by, at=at), somebody_left(by):
        if not Person.objects.filter(pk=person.pk, is_active=True).update(is_active=False):
            raise PersonRefused(f"{person} is already locked.")
    person.is_active = False


@transaction.atomic
def unlock_person(person, *, by, at):
    """Let a person sign in again, after a lock or after too many wrong passwords. Safe to repeat."""
    refuse_foreign(person, by)
    refuse_closed(person)
    forget_wrong_passwords(person.username)
    with recording(person, by=by, at=at):
        Person.objects.filter(pk=person.pk).update(is_active=True)
    person.is_active = True


@transaction.atomic
def set_up_second_factor(person, *, key, step, at):
    """Store the secret `key` of a person's app and return recovery codes; every session of the account ends.

    step  time step of the first code, which is not accepted again. Raise PersonRefused if there is a factor already.
    """
    _hold(person)
    if any(devices_for_user(person)):
        raise PersonRefused(f"{person} already has a second factor. Remove it first.")
    TOTPDevice.objects.create(user=person, name="app", key=key, last_t=step, confirmed=True)
    device = StaticDevice.objects.create(user=person, name="recovery")
    codes = [StaticToken.random_token() for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=device, token=code) for code in codes)
    _end_sessions(person)
    record_change(person, by=person, at=at, before={"Second factor": "none"}, after={"Second factor": "set up"})
    return codes


@transaction.atomic
def remove_second_factor(person, *, by, at):
    """Remove a person's second factor and recovery codes; every session of the account ends.

    Raise PersonRefused if there is none.
    """
    _hold(person)
    if by != person:
        refuse_foreign(person, by)
    devices = list(devices_for_user(person, confirmed=None, for_verify=True))
    if not any(device.confirmed for device in devices):
        raise PersonRefused(f"{person} has no second factor.")
    for device in devices:
        device.delete()
    _end_sessions(person)
    record_change(person, by=by, at=at, before={"Second factor": "set up"}, after={"Second factor": "removed"})


@transaction.atomic
def password_link(person, *, by, at):
    """Return the two parts of a link where the person sets a password, once, within the time limit of the settings."""
    refuse_foreign(person, by)
    refuse_closed(person)
    if not person.is_active:
        raise PersonRefused(f"{person} is locked. Unlock the account first.")
    link = {
        "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
        "token": default_token_generator.make_token(person),
    }
    record_change(person, by=by, at=at, before={"Password link": "none"}, after={"Password link": "made"})
    return link


def _hold(person):
    """Lock the account for this transaction, so that two requests do not change its second factor at once."""
    Person.objects.select_for_update(no_key=True).only("pk").get(pk=person.pk)


def _end_sessions(person):
    Person.objects.filter(pk=person.pk).update(sessions_ended=F("sessions_ended") + 1)


def refuse_foreign(person, by):
    if by is not None and not Person.objects.visible_to(by).filter(pk=person.pk).exists():
        raise PersonRefused(f"You may not manage the account of {person}.")


def refuse_closed(person):
    if person.is_closed:
        raise PersonRefused(f"The account of {person} is permanently closed: its personal data were removed.")


def _refuse_beyond_own_sites(by, sites):
    if by is None or not by.site_ids:
        return
    wanted = {site.pk for site in sites}
    if not wanted or not wanted <= set(by.site_ids):
        raise PersonRefused("You are limited to your own sites: choose at least one of those, and no others.")


def _refuse_more_for_oneself(person, groups, sites, by):
    if by is None or by.pk != person.pk:
        return
    more = {group.name for group in groups} - set(person.groups.values_list("name", flat=True))
    if more:
        raise PersonRefused(f"You cannot add yourself to a group. Ask another person for: {', '.join(sorted(more))}.")
    had = set(person.site_ids)
    if had and (not sites or not {site.pk for site in sites} <= had):
        raise PersonRefused("You cannot add a site to your own account. Ask another person.")


class somebody_left:
    """Raise PersonRefused at the end if nobody would remain who may manage every account.

    A command may leave nobody, unless `always` is true.
    """

    def __init__(self, by, *, always=False):
        self.is_asked = always or by is not None

    def __enter__(self):
        self.anybody = self.is_asked and Person.objects.who_manage().exists()

    def __exit__(self, kind, error, trace):
        if kind is None and self.anybody and not Person.objects.who_manage().exists():
            raise PersonRefused(
                "Nobody would be left who can manage every account. Make another person planner-in-chief first."
            )
