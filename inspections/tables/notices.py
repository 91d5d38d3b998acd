"""The list of safety notices."""

import django_tables2 as tables

from fleet.tables.cells import figure, link, mark, strong, with_alarm, with_note
from inspections.models import SafetyNotice
from inspections.tables.cells import day


class NoticeTable(tables.Table):
    title = tables.Column("Notice", order_by=("title", "pk"))
    published_by = tables.Column("Published by", order_by=("published_by", "pk"))
    received_on = tables.Column("Received", order_by=("received_on", "pk"))
    answer_by = tables.Column("To be done by", empty_values=(), order_by=("answer_by", "pk"))
    items_open = tables.Column("Open items", order_by=("items_open", "pk"))
    state = tables.Column("State", empty_values=(), order_by=("closed_at", "pk"))

    class Meta:
        model = SafetyNotice
        fields = ()
        sequence = ("title", "published_by", "received_on", "answer_by", "items_open", "state")
        order_by = ("-received_on",)
        empty_text = "No safety notice matches. Enter one when it arrives."

    def __init__(self, *args, today, **kwargs):
        self.today = today
        super().__init__(*args, **kwargs)

    def render_title(self, record, value):
        return with_note(link(record.get_absolute_url(), value), record.reference)

    def value_title(self, record, value):
        return f"{record.reference}: {value}"

    def render_received_on(self, value):
        return figure(day(value))

    def value_received_on(self, value):
        return value.isoformat()

    def render_answer_by(self, record):
        if record.answer_by and record.is_open and record.answer_by < self.today:
            return with_alarm(figure(day(record.answer_by)), "overdue")
        return figure(day(record.answer_by))

    def value_answer_by(self, record):
        return record.answer_by.isoformat() if record.answer_by else ""

    def render_items_open(self, record, value):
        words = f"{value} of {record.items_seen}"
        return strong(words) if value else words

    def value_items_open(self, record, value):
        return f"{value} of {record.items_seen}"

    def render_state(self, record):
        return mark("Open" if record.is_open else "Closed")

    def value_state(self, record):
        return "open" if record.is_open else "closed"
