"""The list of people."""

import django_tables2 as tables

from fleet.models import Person
from fleet.tables.cells import mark
from fleet.tables.columns import MomentColumn


class PersonTable(tables.Table):
    name = tables.Column(
        accessor="username", verbose_name="Name", linkify=True, order_by=("last_name", "first_name", "username")
    )
    groups = tables.Column(orderable=False)
    sites = tables.Column(orderable=False)
    standing = tables.Column(accessor="is_active", verbose_name="Account", empty_values=())
    has_second_factor = tables.BooleanColumn(verbose_name="Second factor", yesno="set up,none")
    last_login = MomentColumn("Last signed in", format="j M Y")

    class Meta:
        model = Person
        fields = ("name", "groups", "sites", "standing", "has_second_factor", "last_login")
        order_by = "name"
        empty_text = "No person matches. Remove a filter, or enter a person."

    def __init__(self, *args, locked, **kwargs):
        super().__init__(*args, **kwargs)
        self.locked = locked  # username -> until when, after wrong passwords

    def render_name(self, record):
        return record

    def render_groups(self, record):
        names = [group.name for group in record.groups.all()]
        return ", ".join(["everything", *names] if record.is_superuser else names) or "—"

    def render_sites(self, record):
        return ", ".join(site.name for site in record.sites.all()) or "every site"

    def render_has_second_factor(self, value):
        return "set up" if value else "none"

    value_has_second_factor = render_has_second_factor

    def render_standing(self, record):
        return standing_mark(record, self.locked.get(record.username))


def standing_mark(person, locked_until):
    """The drawn mark and word of an account: open, closed, locked, or locked for a while after wrong passwords."""
    if person.is_closed:
        return mark("Closed permanently", "void")
    if not person.is_active:
        return mark("Locked", "void")
    if locked_until:
        return mark("Temporarily locked", "overdue")
    return mark("Open", "in-service")
