"""Decide on a page as a browser does: get it, then send its form with the token of what it showed."""

import re

from tests.factories import PASSWORD

SHOWN = re.compile(r'name="shown" value="([^"]+)"')


def shown_on(page, *, retest=None):
    """The token of what a page showed; on the page of a release that of one retest. Empty if there is none."""
    text = page.content.decode()
    if retest is not None:
        text = text.partition(f'name="retest" value="{retest.pk}"')[2]
    found = SHOWN.search(text)
    return found[1] if found else ""


CODED = {"code": "wear", "found_how": "daily check"}  # what closing a finding asks for besides its note


def send(client, url, data=None, *, retest=None, **options):
    """Look at a page and send its form."""
    shown = shown_on(client.get(url), retest=retest)
    named = {"retest": retest.pk} if retest is not None else {}
    return client.post(url, {**named, **(data or {}), "shown": shown}, **options)


def decision(reason="Repaired and tested.", **fields):
    """Return the fields that every decision asks for."""
    return {"reason": reason, "password": PASSWORD, **fields}
