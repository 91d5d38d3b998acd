"""The machines that were attempted several times, the longest overdue first."""

import django_tables2 as tables

from fleet.models import Machine
from fleet.tables.cells import figure, link, with_alarm, with_note
from fleet.tables.columns import NUMBER
from fleet.web.key_addresses import key_address
from inspections.models.attempts import attempt_in_words
from inspections.tables.cells import day


class AttemptedTable(tables.Table):
    asset_number = tables.Column("Machine", order_by=("asset_number",))
    place = tables.Column("Location", empty_values=(), order_by=("area__site__name", "area__name", "pk"))
    attempts = tables.Column(order_by=("attempts", "pk"), attrs=NUMBER)
    last_kind = tables.Column("Last attempt", order_by=("last_on", "pk"))
    last_reason = tables.Column("Reason", orderable=False)
    last_decided_by = tables.Column("Decided by", orderable=False, visible=False)
    last_until = tables.Column("Until", order_by=("last_until", "pk"))
    waiting_since = tables.Column("Last day of window", order_by=("waiting_since", "pk"))

    class Meta:
        model = Machine
        fields = ()
        order_by = ("waiting_since",)
        empty_text = "No machine with open inspections was attempted more than once."

    def __init__(self, *args, today, **kwargs):
        self.today = today
        super().__init__(*args, **kwargs)

    def render_asset_number(self, record, value):
        attempted = key_address("inspections:inspection", record.last_inspection)
        return with_note(link(attempted, value), record.model.name)

    def value_asset_number(self, record, value):
        return f"{value}, {record.model}"

    def render_place(self, record):
        return with_note(record.area.name, record.area.site.name)

    def value_place(self, record):
        return f"{record.area.name}, {record.area.site.name}"

    def render_attempts(self, record, value):
        return with_note(value, f"{record.not_located} not located") if record.not_located else value

    def value_attempts(self, value):
        return value

    def render_last_kind(self, record, value):
        return with_note(attempt_in_words(value, None), day(record.last_on))

    def value_last_kind(self, record, value):
        return f"{attempt_in_words(value, None)}, {record.last_on.isoformat()}"

    def render_last_until(self, value):
        return figure(day(value))

    def value_last_until(self, value):
        return value.isoformat() if value else ""

    def render_waiting_since(self, value):
        late = (self.today - value).days
        if late <= 0:
            return figure(day(value))
        return with_alarm(figure(day(value)), f"{late} day{'s' if late > 1 else ''} overdue")

    def value_waiting_since(self, value):
        return value.isoformat()
