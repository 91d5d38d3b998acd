"""Cells that several tables share."""

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.text import slugify


def mark(word):
    """The drawn mark of a state with its word, as bobbin/mark.html writes it."""
    return format_html('<span class="mark mark-{}">{}</span>', slugify(word), word)


def day(value):
    """A date as everywhere in Bobbin, such as 2 Nov 2026."""
    return date_format(value, "DATE_FORMAT") if value else "—"


def machine_link(machine):
    """The asset number as a link, with the model's name below it."""
    return format_html(
        '<a href="{}">{}</a><br><span class="note">{}</span>',
        reverse("fleet:machine", args=[machine.pk]),
        machine.asset_number,
        machine.model.name,
    )


def place(machine):
    """The area with the site below it."""
    return format_html('{}<br><span class="note">{}</span>', machine.area.name, machine.area.site.name)
