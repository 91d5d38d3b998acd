"""The list of components of all machines, removed ones among them."""

import django_tables2 as tables

from fleet.models import Component
from fleet.tables.cells import link, with_note
from fleet.tables.columns import DayColumn


class ComponentTable(tables.Table):
    label = tables.Column("Component", order_by=("label", "pk"))
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    serial = tables.Column("Serial number", order_by=("serial", "pk"))
    lot = tables.Column(order_by=("lot", "pk"))
    part_number = tables.Column("Part number", order_by=("part_number", "pk"))
    fitted_on = DayColumn("Fitted")
    removed_on = DayColumn("Removed")

    class Meta:
        model = Component
        fields = ("label", "machine", "serial", "lot", "part_number", "fitted_on", "removed_on")
        order_by = ("machine",)
        empty_text = "No component matches. Only components that were recorded one by one are listed."

    def render_label(self, record, value):
        return with_note(value, record.get_kind_display())

    def value_label(self, record, value):
        return f"{value} ({record.get_kind_display()})"

    def render_machine(self, value):
        return with_note(link(value.get_absolute_url(), value.asset_number), value.area.site.name)

    def value_machine(self, value):
        return str(value)
