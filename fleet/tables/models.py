"""The list of machine models."""

import django_tables2 as tables

from fleet.models import MachineModel
from fleet.tables.columns import NUMBER, DayColumn


class MachineModelTable(tables.Table):
    name = tables.Column("Model", linkify=True, order_by=("manufacturer", "name"))
    first_built = tables.Column("Built from", attrs=NUMBER, localize=False)
    last_built = tables.Column("to", attrs=NUMBER, localize=False)
    in_service = tables.Column("In service", attrs=NUMBER)
    withdrawn = tables.Column(attrs=NUMBER)
    retired = tables.Column(attrs=NUMBER)
    parts_until = DayColumn("Spare parts until")

    class Meta:
        model = MachineModel
        fields = ("name", "first_built", "last_built", "in_service", "withdrawn", "retired", "parts_until")
        order_by = "name"
        empty_text = "No machine model yet. Enter the first one, so that machines can be registered."

    def render_name(self, record):
        return str(record)


class PurgeTable(tables.Table):
    name = tables.Column("Model", linkify=True, order_by=("manufacturer", "name"))
    in_service = tables.Column("In service", attrs=NUMBER)
    vapour_free_minutes = tables.Column("Purge (min)", attrs=NUMBER, default="not stated")
    vapour_free_source = tables.Column(
        "Source", default="Ask the manufacturer; until then use a machine with a stated time."
    )

    class Meta:
        model = MachineModel
        fields = ("name", "in_service", "vapour_free_minutes", "vapour_free_source")
        order_by = "name"
        empty_text = "No model with a vaporizer is in service."

    def render_name(self, record):
        return str(record)
