"""Components that are due for replacement."""

import django_tables2 as tables

from fleet.models import Component
from fleet.tables.cells import figure, link, with_note
from fleet.web.key_addresses import key_address
from inspections.tables.cells import day, machine_link, place


class PartTable(tables.Table):
    due = tables.Column("Due", empty_values=(), order_by=("due_month", "due_day", "pk"))
    label = tables.Column("Component", order_by=("label", "pk"))
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    place = tables.Column("Location", empty_values=(), order_by=("machine__area__site__name", "machine__area__name"))
    fitted_on = tables.Column("Fitted", order_by=("fitted_on", "pk"))
    life = tables.Column("Life", empty_values=(), orderable=False)
    used = tables.Column("Meter", empty_values=(), order_by=("used", "pk"))

    class Meta:
        model = Component
        fields = ()
        sequence = ("due", "label", "machine", "place", "fitted_on", "life", "used")
        order_by = ("due",)

    def __init__(self, *args, today, parts=None, **kwargs):
        self.parts, self.today = parts, today
        super().__init__(*args, **kwargs)

    def render_due(self, record):
        found = self.parts.due(record)
        words = "Overdue" if found.on and found.on < self.today else found.basis.value.capitalize()
        return with_note(figure(day(found.on)), words)

    def value_due(self, record):
        found = self.parts.due(record)
        return found.on.isoformat() if found.on else ""

    def render_label(self, record, value):
        numbers = [text for text in (record.serial, record.lot) if text]
        return with_note(value, ", ".join([record.catalogue_entry.name, *numbers]))

    def value_label(self, value):
        return value

    def render_machine(self, value):
        return machine_link(value)

    def value_machine(self, value):
        return f"{value}, {value.model}"

    def render_place(self, record):
        return place(record.machine)

    def value_place(self, record):
        return f"{record.machine.area.name}, {record.machine.area.site.name}"

    def render_fitted_on(self, value):
        return figure(day(value))

    def value_fitted_on(self, value):
        return value.isoformat()

    def render_life(self, record):
        life = self.parts.life_of(record)
        return with_note(life.life_words, f"{life.get_source_display()}: {life.reference}")

    def value_life(self, record):
        return self.parts.life_of(record).life_words

    def render_used(self, record):
        life = self.parts.life_of(record)
        if life.unit == "months":
            return "—"
        read = f"{record.used} {life.unit}" if record.used is not None else "no reading"
        line = link(key_address("inspections:meter_readings", record.pk), read)
        return with_note(line, f"read {day(record.read_on)}") if record.read_on else line

    def value_used(self, record):
        return record.used
