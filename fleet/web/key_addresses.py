"""Addresses that hold the key of a row: made once for each name, since a list asks for many of them.

Django looks through every address of the program for each, which for a page of rows takes longer than to read them.
"""

from functools import cache

from django.conf import settings
from django.urls import get_script_prefix, get_urlconf, reverse

STAND_IN = 7_203_518_946  # a key that is in no name


def key_address(name, key):
    """Return the address `name` of the row with this key, a whole number; as `reverse` does."""
    before, after = _around_key(name, get_script_prefix(), get_urlconf() or settings.ROOT_URLCONF)
    return f"{before}{key:d}{after}"


@cache
def _around_key(name, prefix, urlconf):
    """Return what is before and after the key; `prefix` and `urlconf` are what `reverse` depends on."""
    before, _, after = reverse(name, urlconf, args=[STAND_IN]).partition(str(STAND_IN))
    return before, after
