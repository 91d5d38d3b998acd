"""The list of fault reports from labels."""

import django_tables2 as tables

from fleet.tables.cells import figure, link, with_note
from inspections.models import FaultReport
from inspections.tables.cells import day, machine_link, mark, place

SHOWN_LENGTH = 140


class FaultReportTable(tables.Table):
    number = tables.Column("Report", accessor="pk", order_by=("pk",))
    what = tables.Column("What happened", orderable=False)
    machine = tables.Column(order_by=("machine__asset_number", "pk"))
    place = tables.Column("Location", empty_values=(), order_by=("machine__area__site__name", "machine__area__name"))
    reported_at = tables.Column("Reported", order_by=("reported_at", "pk"))
    age = tables.Column(
        "Age", empty_values=(), order_by=("-reported_at", "pk"), attrs={"td": {"class": "num"}, "th": {"class": "num"}}
    )

    class Meta:
        model = FaultReport
        fields = ()
        sequence = ("number", "what", "machine", "place", "reported_at", "age")
        order_by = ("reported_at",)

    def __init__(self, *args, now, **kwargs):
        self.now = now
        super().__init__(*args, **kwargs)

    def render_number(self, record):
        return link(record.get_absolute_url(), record.number)

    def value_number(self, record):
        return record.number

    def render_what(self, record, value):
        words = value if len(value) <= SHOWN_LENGTH else f"{value[:SHOWN_LENGTH]}…"
        return with_note(words, f"{record.who}, at {record.where}")

    def value_what(self, value):
        return value

    def render_machine(self, value):
        return machine_link(value)

    def value_machine(self, value):
        return f"{value}, {value.model}"

    def render_place(self, record):
        return place(record.machine)

    def value_place(self, record):
        return f"{record.machine.area.name}, {record.machine.area.site.name}"

    def render_reported_at(self, record, value):
        return figure(day(record.machine.site.date_of(value)))

    def value_reported_at(self, value):
        return value.isoformat()

    def render_age(self, record):
        return age_words(record.reported_at, record.settled_at or self.now)


class SettledReportTable(FaultReportTable):
    state = tables.Column("Settled", order_by=("state", "pk"))
    age = tables.Column(
        "Waited", empty_values=(), orderable=False, attrs={"td": {"class": "num"}, "th": {"class": "num"}}
    )

    class Meta(FaultReportTable.Meta):
        sequence = ("number", "what", "machine", "place", "reported_at", "state", "age")
        order_by = ("-reported_at",)

    def render_state(self, record):
        return with_note(mark(record.get_state_display(), "closed"), str(record.settled_by or ""))

    def value_state(self, record):
        return record.get_state_display()


def age_words(since, until):
    """Return how long something has waited, in hours on the first day, then in days."""
    hours = int((until - since).total_seconds() // 3600)
    if hours < 1:
        return "less than an hour"
    count, unit = (hours, "hour") if hours < 24 else (hours // 24, "day")
    return f"{count} {unit}{'' if count == 1 else 's'}"
