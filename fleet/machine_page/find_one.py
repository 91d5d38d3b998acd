"""A machine found by what is written on it: asset number, serial number, or the code of its label."""

from urllib.parse import urlsplit

from django.urls import Resolver404, resolve

from fleet.extensions import machine_key_on_label
from fleet.models import Machine


def machine_by_what_is_on_it(person, text):
    """Return the one machine that `person` may see and that bears `text`, else None."""
    visible = Machine.objects.visible_to(person)
    text = text.strip()
    pk = _key_in_address(text) or machine_key_on_label(text)
    found = visible.filter(pk=pk) if pk else visible.bearing(text)
    machines = list(found[:2])
    return machines[0] if len(machines) == 1 else None


def _key_in_address(text):
    """Return the key of the machine whose page the address `text` opens, on whichever host; None for another text."""
    try:
        match = resolve(urlsplit(text).path if "/" in text else "")
    except (Resolver404, ValueError):
        return None
    return match.kwargs.get("pk") if match.view_name == "fleet:machine" else None
