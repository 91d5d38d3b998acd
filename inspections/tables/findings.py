"""The list of findings."""

import django_tables2 as tables

from fleet.tables.cells import figure, link, strong, with_alarm, with_note
from inspections.models import Finding
from inspections.tables.cells import day, machine_link, mark, place


class FindingTable(tables.Table):
    title = tables.Column("Finding", order_by=("title", "pk"), attrs={"td": {"class": "says"}})
    severity = tables.Column(order_by=("severity", "-opened_at"))
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    status = tables.Column("Status", accessor="machine__status", order_by=("machine__status", "pk"))
    place = tables.Column("Location", empty_values=(), order_by=("machine__area__site__name", "machine__area__name"))
    opened_at = tables.Column("Opened", order_by=("opened_at", "pk"))
    age = tables.Column(
        "Age", empty_values=(), order_by=("-opened_at", "pk"), attrs={"td": {"class": "num"}, "th": {"class": "num"}}
    )

    class Meta:
        model = Finding
        fields = ()
        sequence = ("title", "severity", "machine", "status", "place", "opened_at", "age")
        order_by = ("-opened_at",)

    def __init__(self, *args, now, **kwargs):
        self.now = now
        super().__init__(*args, **kwargs)

    def render_title(self, record, value):
        line = link(record.get_absolute_url(), value)
        if record.awaits_withdrawal:
            return with_alarm(line, "In service: decide about withdrawal from use")
        return with_note(line, record.get_origin_display())

    def value_title(self, value):
        return value

    def render_severity(self, record):
        return strong("Essential") if record.is_essential else "Other"

    def render_machine(self, value):
        return machine_link(value)

    def value_machine(self, value):
        return f"{value}, {value.model}"

    def render_status(self, record):
        return mark(record.machine.get_status_display())

    def render_place(self, record):
        return place(record.machine)

    def value_place(self, record):
        return f"{record.machine.area.name}, {record.machine.area.site.name}"

    def render_opened_at(self, record, value):
        return figure(day(record.machine.site.date_of(value)))

    def value_opened_at(self, value):
        return value.isoformat()

    def render_age(self, record):
        days = ((record.closed_at or self.now) - record.opened_at).days
        return "today" if days == 0 else f"{days} day{'s' if days > 1 else ''}"


class ClosedFindingTable(FindingTable):
    closed_at = tables.Column("Closed", order_by=("closed_at", "pk"))
    age = tables.Column(
        "Was open", empty_values=(), orderable=False, attrs={"td": {"class": "num"}, "th": {"class": "num"}}
    )

    class Meta(FindingTable.Meta):
        sequence = ("title", "severity", "machine", "status", "place", "opened_at", "closed_at", "age")
        order_by = ("-closed_at",)

    def render_closed_at(self, record, value):
        return figure(day(record.machine.site.date_of(value)))

    def value_closed_at(self, value):
        return value.isoformat()
