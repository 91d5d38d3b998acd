"""Devices where an account was signed in before: their wrong passwords are counted separately from those of strangers.

Somebody who guesses passwords from elsewhere locks the account for unknown browsers, but not for the tablet that its
owner uses every day. A signed cookie names the device and, as digests, the accounts that were signed in there. The
cookie grants no access: the password is still required, and wrong ones are counted for each device.
"""

import secrets

from django.conf import settings
from django.core import signing
from django.utils.crypto import salted_hmac

from fleet.people.lockout import device_count, login_count, signing_count

COOKIE = "bobbin_device"
SALT = "bobbin.device"
AGE = 180 * 24 * 60 * 60
MOST_PEOPLE = 30


class KnownDevice:
    """Middleware that gives a device its cookie once an account has been signed in there."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        username = getattr(request, "known_here", None)
        if username is not None:
            response.set_cookie(
                COOKIE, _cookie(request, username), max_age=AGE, httponly=True, samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )  # fmt: skip
        return response


def counted_as(request, credentials=None):
    """AXES_USERNAME_CALLABLE: the name under which a wrong password of this request is counted."""
    username = (credentials or {}).get("username") or ""
    known = request.__dict__.setdefault("counted_as", {})
    if username not in known:
        known[username] = _count(request, username)
    return known[username]


def _count(request, username):
    if getattr(request, "asks_again", False):
        return signing_count(username)
    device, people = _read(request)
    if device and _mark(device, username) in people:
        return device_count(device, username)
    return login_count(username)


def _cookie(request, username):
    device, people = _read(request)
    device = device or secrets.token_hex(8)
    mark = _mark(device, username)
    newest = [mark, *(other for other in people if other != mark)][:MOST_PEOPLE]
    return signing.dumps([device, newest], salt=SALT)


def _read(request):
    """Return the device and the marks of the accounts that were signed in there; (None, []) for an unknown device."""
    try:
        return signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=AGE)
    except signing.BadSignature:
        return None, []


def _mark(device, username):
    return salted_hmac(SALT, f"{device}:{username}").hexdigest()[:16]
