"""The due dates behind the on-time figure. A file of them holds all that is needed to compute it again."""

import django_tables2 as tables

from fleet.tables.cells import figure, link, with_note
from fleet.web.key_addresses import key_address
from inspections.models.attempts import attempt_in_words
from inspections.schedule.on_time import COUNTED, Answer
from inspections.tables.cells import day, machine_link


class DueDateTable(tables.Table):
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    model = tables.Column("Model", accessor="machine__model", visible=False)
    place = tables.Column("Location", empty_values=(), order_by=("site_was", "area_was", "pk"))
    area = tables.Column("Area", accessor="area_was", visible=False)
    site = tables.Column("Site", accessor="site_was", visible=False)
    procedure = tables.Column(order_by=("procedure__title", "pk"))
    inspection = tables.Column("Inspection", accessor="pk", visible=False)
    planned_at = tables.Column("Planned", visible=False)
    due_on = tables.Column("Due", order_by=("due_on", "pk"))
    opens_on = tables.Column("First day", visible=False)
    closes_on = tables.Column("Last day", order_by=("closes_on", "pk"))
    answered_by = tables.Column("Signed as", visible=False, empty_values=())
    answered_on = tables.Column("Signed", empty_values=(), order_by=("answered_on", "pk"))
    answer = tables.Column(order_by=("answer", "pk"))
    counted = tables.Column("Counted", accessor="answer", visible=False)
    on_time = tables.Column("On time", accessor="answer", visible=False)
    is_early = tables.Column("Early", visible=False)
    excuse = tables.Column("Last attempt", empty_values=(), order_by=("excuse", "pk"))

    class Meta:
        order_by = ("closes_on",)
        empty_text = "No due date of this period matches."

    def render_machine(self, value):
        return machine_link(value)

    def value_machine(self, value):
        return str(value)

    def render_place(self, record):
        return with_note(record.area_was, record.site_was)

    def value_place(self, record):
        return f"{record.area_was}, {record.site_was}"

    def render_procedure(self, record, value):
        return link(key_address("inspections:inspection", record.pk), value)

    def render_due_on(self, value):
        return figure(day(value))

    def value_due_on(self, value):
        return value.isoformat()

    def render_closes_on(self, value):
        return figure(day(value))

    def value_closes_on(self, value):
        return value.isoformat()

    def value_opens_on(self, value):
        return value.isoformat()

    def value_planned_at(self, value):
        return value.isoformat()

    def render_answered_on(self, record, value):
        if value is None:
            return "—"
        signed = link(key_address("inspections:inspection", record.answered_by), day(value))
        return with_note(signed, "before the window") if record.is_early else signed

    def value_answered_on(self, value):
        return value.isoformat() if value else ""

    def value_answered_by(self, value):
        return value or ""

    def render_answer(self, value):
        return Answer(value).label

    def value_answer(self, value):
        return Answer(value).label

    def value_counted(self, value):
        return int(value in COUNTED)

    def value_on_time(self, value):
        return int(value == Answer.ON_TIME)

    def value_is_early(self, record):
        return int(record.is_early)

    def render_excuse(self, value):
        return attempt_in_words(value, None) if value else "—"

    def value_excuse(self, value):
        return attempt_in_words(value, None) if value else ""
