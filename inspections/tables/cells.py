"""Cells that several tables share."""

from fleet.tables.cells import link, mark, with_note
from fleet.web.at_site import day_words
from fleet.web.key_addresses import key_address

__all__ = ["day", "machine_link", "mark", "place"]


def day(value):
    """A date as everywhere in Bobbin, such as 2 Nov 2026."""
    return day_words(value) if value else "—"


def machine_link(machine):
    """The asset number as a link, with the model's name below it."""
    return with_note(link(key_address("fleet:machine", machine.pk), machine.asset_number), machine.model.name)


def place(machine):
    """The area with the site below it."""
    return with_note(machine.area.name, machine.area.site.name)
