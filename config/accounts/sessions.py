"""The data that a new session starts with."""

import time

from django.conf import settings
from django_otp import devices_for_user


def begin_session(sender, request, user, **kwargs):
    """Receiver of user_logged_in: start the clock, and store whether a second factor must follow."""
    request.session["seen"] = int(time.time())
    request.known_here = user.get_username()
    wanted = wanted_second_factor(user)
    if wanted:
        request.session["second_factor"] = wanted


def wanted_second_factor(person):
    """ "ask" when the person has one, "set up" when a group of the person requires one, else empty."""
    if any(devices_for_user(person)):
        return "ask"
    required = settings.SECOND_FACTOR_GROUPS
    return "set up" if required and person.groups.filter(name__in=required).exists() else ""
