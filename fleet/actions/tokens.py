"""Request, confirm and revoke the tokens of programs, and record their use.

Nobody can create a token that works in the name of another person: whoever manages accounts requests it, its owner
confirms it with the password and alone sees its secret.
"""

import secrets
from datetime import timedelta

from django.db import IntegrityError, transaction

from fleet.changes import record_created, recording
from fleet.errors import TokenRefused
from fleet.models import ApiToken
from fleet.models.querysets.tokens import digest_of_secret

PREFIX = "bobbin_"  # makes a secret recognisable that leaked into a file or a log
SHOWN = len(PREFIX) + 5
LONGEST_LIFE = timedelta(days=2 * 366)


@transaction.atomic
def add_token(*, name, owner, group, expires_on, by, at, today):
    """Request a token and return it: it has no secret and is not accepted until `owner` confirms it.

    Raise TokenRefused if the owner is not in the group, the last day is past or too far ahead, or the name is taken.
    """
    _refuse_outside_group(owner, group)
    if not today <= expires_on <= today + LONGEST_LIFE:
        raise TokenRefused(f"{expires_on} cannot be the last day. Enter a day from {today} to {today + LONGEST_LIFE}.")
    try:
        with transaction.atomic():
            token = ApiToken.objects.create(
                name=name.strip(), owner=owner, group=group, expires_on=expires_on, added_by=by, added_at=at
            )
    except IntegrityError:
        raise TokenRefused(
            f"A token called “{name}” already exists. Enter a name that was never used before."
        ) from None
    record_created([token], by=by, at=at)
    return token


@transaction.atomic
def confirm_token(token, *, by, at, today):
    """Confirm a token in the name of its owner `by`, and return its secret, which cannot be shown again.

    A token from the time before owners were asked keeps the secret that its program has; None is returned then.
    Raise TokenRefused for somebody else's token, and for one that is confirmed, revoked or past its last day.
    """
    if token.owner_id != by.pk:
        raise TokenRefused(f"The token “{token}” acts for {token.owner}; only that person can confirm it.")
    _refuse_outside_group(by, token.group)
    if token.is_expired(today):
        raise TokenRefused(f"The last day of the token “{token}” was {token.expires_on}. Request another one.")
    secret = None if token.digest else PREFIX + secrets.token_urlsafe(32)
    made = {"digest": digest_of_secret(secret), "start": secret[:SHOWN]} if secret else {}
    with recording(token, by=by, at=at):
        if not ApiToken.objects.awaiting_owner().filter(pk=token.pk).update(confirmed_at=at, **made):
            raise TokenRefused(f"The token “{token}” is already confirmed or revoked.")
    token.refresh_from_db()
    return secret


@transaction.atomic
def revoke_token(token, *, by, at):
    """Revoke a token for good. Raise TokenRefused if it was revoked before."""
    with recording(token, by=by, at=at):
        if not ApiToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=at, revoked_by=by):
            raise TokenRefused(f"The token “{token}” is already revoked.")
    token.refresh_from_db()


def note_token_use(token, *, today):
    """Store the day on which a token was last used; writes once a day."""
    if token.last_used_on != today:
        ApiToken.objects.filter(pk=token.pk).update(last_used_on=today)


def _refuse_outside_group(owner, group):
    if not owner.groups.filter(pk=group.pk).exists():
        raise TokenRefused(f"{owner} is not in the group {group}. A token may do only what its owner may.")
