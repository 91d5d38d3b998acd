"""The list of machines that are away, or were."""

import django_tables2 as tables
from django.urls import reverse

from fleet.models import AwayPeriod
from fleet.tables.cells import actions, figure, link, mark, quiet, with_note
from fleet.web.at_site import day_words


class AwayTable(tables.Table):
    machine = tables.Column(order_by=("machine__asset_number", "pk"), attrs={"th": {"class": "fix"}})
    area = tables.Column(
        "Location", accessor="machine__area", order_by=("machine__area__site__name", "machine__area__name", "pk")
    )
    kind = tables.Column("What for", order_by=("kind", "pk"))
    to_whom = tables.Column("To whom", order_by=("to_whom", "pk"))
    from_date = tables.Column("Away from", order_by=("from_date", "pk"))
    expected_on = tables.Column("Expected back", order_by=("expected_on", "pk"))
    returned_on = tables.Column("Came back", empty_values=(), order_by=("returned_on", "pk"))

    class Meta:
        model = AwayPeriod
        fields = ()
        order_by = ("expected_on",)
        empty_text = "No machine is away. A loan or an outside repair is recorded from the history of its machine."

    def __init__(self, *args, today, may_change=False, **kwargs):
        super().__init__(*args, **kwargs)
        self.today, self.may_change = today, may_change

    def render_machine(self, value):
        return link(value.get_absolute_url(), value)

    def value_machine(self, value):
        return str(value)

    def render_area(self, value):
        return with_note(value.name, value.site.name)

    def value_area(self, value):
        return str(value)

    def render_to_whom(self, record, value):
        return with_note(value, record.reason)

    def value_to_whom(self, value):
        return value

    def render_from_date(self, value):
        return figure(day_words(value))

    def value_from_date(self, value):
        return value.isoformat()

    def render_expected_on(self, record, value):
        return (
            mark(day_words(value), "overdue", hidden="overdue") if record.is_overdue(self.today) else day_words(value)
        )

    def value_expected_on(self, value):
        return value.isoformat()

    def render_returned_on(self, record, value):
        if value:
            return with_note(day_words(value), record.return_note) if record.return_note else day_words(value)
        if not self.may_change:
            return quiet("away")
        back = reverse("fleet:machine_back", args=[record.pk])
        later = reverse("fleet:machine_expected", args=[record.pk])
        return actions((back, "Take back", record.machine), (later, "Another day", f"for {record.machine}"))

    def value_returned_on(self, value):
        return value.isoformat() if value else ""
