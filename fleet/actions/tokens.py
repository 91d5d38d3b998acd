"""Hand out, note and take back the keys of programs."""

import secrets
from datetime import timedelta

from django.db import IntegrityError, transaction

from fleet.errors import TokenRefused
from fleet.models import ApiToken
from fleet.token_querysets import digest_of_secret

PREFIX = "bobbin_"  # so that a secret that got into a file or a log is recognised
SHOWN = len(PREFIX) + 5
LONGEST_LIFE = timedelta(days=2 * 366)


def add_token(*, name, owner, group, expires_on, by, at, today):
    """Make a token and return it with its secret, which is not kept and cannot be shown again.

    Raise TokenRefused if the owner is not in the group, the last day is past or too far ahead, or the name is taken.
    """
    if not owner.groups.filter(pk=group.pk).exists():
        raise TokenRefused(f"{owner} is not in the group {group}. A token may do only what its owner may.")
    if not today <= expires_on <= today + LONGEST_LIFE:
        raise TokenRefused(f"{expires_on} cannot be the last day. Give one from {today} to {today + LONGEST_LIFE}.")
    secret = PREFIX + secrets.token_urlsafe(32)
    try:
        with transaction.atomic():
            token = ApiToken.objects.create(
                name=name.strip(), owner=owner, group=group, expires_on=expires_on, added_by=by, added_at=at,
                digest=digest_of_secret(secret), start=secret[:SHOWN],
            )  # fmt: skip
    except IntegrityError:
        raise TokenRefused(f"A token called “{name}” exists already. Give a name that no other has had.") from None
    return token, secret


def revoke_token(token, *, by, at):
    """Take a token back for good. Raise TokenRefused if that was done already."""
    if not ApiToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=at, revoked_by=by):
        raise TokenRefused(f"The token “{token}” is revoked already.")
    token.refresh_from_db()


def note_token_use(token, *, today):
    """Keep the day on which a token was last used; writes once a day."""
    if token.last_used_on != today:
        ApiToken.objects.filter(pk=token.pk).update(last_used_on=today)
