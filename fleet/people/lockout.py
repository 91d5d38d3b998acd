"""Who is locked out after repeated wrong passwords, and until when. django-axes counts.

Wrong passwords of one account are counted separately by where they were entered, so that strangers lock out only
strangers:

- at the login page, from an unknown browser: under the username
- at the login page, from a device where the account was signed in before: under device and username
- by a person who is signed in and is asked again, for example at a signature: under “signing” and username
"""

from datetime import timedelta

from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Max, Q, Sum
from django.utils.crypto import salted_hmac

from fleet.models import Person

APART = ": "  # no username contains a colon or a space


def signing_count(username):
    """Return the name under which wrong passwords of a person who is signed in are counted."""
    return f"signing{APART}{username}"


def device_count(device, username):
    """Return the name under which wrong passwords from a known device are counted."""
    return f"device {device}{APART}{username}"


def login_count(username):
    """Return the name under which wrong passwords from unknown browsers are counted.

    An unknown name is stored as a digest: people type passwords into the wrong field.
    """
    if Person.objects.filter(username=username).exists():
        return username
    return f"nobody {salted_hmac('bobbin.lockout', username).hexdigest()[:32]}"


def locked_until(counts, now):
    """Map those of `counts` (usernames, or names as above) that are locked out at `now` to its end. One query."""
    pause = timedelta(minutes=settings.LOCKOUT_MINUTES)
    wrong = AccessAttempt.objects.filter(username__in=counts, attempt_time__gte=now - pause)
    counted = wrong.values("username").order_by().annotate(n=Sum("failures_since_start"), last=Max("attempt_time"))
    return {row["username"]: row["last"] + pause for row in counted.filter(n__gte=settings.AXES_FAILURE_LIMIT)}


def forget_wrong_passwords(username):
    """Reset every count of an account, which ends all its lockouts."""
    AccessAttempt.objects.filter(Q(username=username) | Q(username__endswith=f"{APART}{username}")).delete()


def forget_wrong_signings(username):
    """Reset the count of a person who is signed in, but not those of strangers."""
    AccessAttempt.objects.filter(username=signing_count(username)).delete()
