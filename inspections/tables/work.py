"""The list of inspections."""

import django_tables2 as tables

from fleet.tables.cells import figure, for_readers, link, quiet, tick, two_lines, with_note
from fleet.tables.columns import ActionColumn
from fleet.web.key_addresses import key_address
from inspections.models import Inspection
from inspections.models.attempts import attempt_in_words
from inspections.tables.cells import day, machine_link, mark, place

PEOPLE = ("technician", "signed_by")
NAMES = ("first_name", "last_name", "username")
# What the tables and their files read: with machine, place and people an inspection has three times as many columns.
COLUMNS = (
    "stage", "due_on", "closes_on", "booked_on", "signed_at", "voided_at", "void_reason",
    "machine__asset_number", "machine__model__manufacturer", "machine__model__name", "machine__area__name",
    "machine__area__site__name", "machine__area__site__time_zone", "procedure__title",
    *(f"{person}__{name}" for person in PEOPLE for name in NAMES),
)  # fmt: skip


class InspectionTable(tables.Table):
    select = ActionColumn(for_readers("Select"))
    machine = tables.Column(order_by=("machine__asset_number",))
    place = tables.Column("Location", empty_values=(), order_by=("machine__area__site__name", "machine__area__name"))
    procedure = tables.Column(order_by=("procedure__title", "pk"))
    due_on = tables.Column("Due", order_by=("due_on", "pk"))
    stage = tables.Column(attrs={"td": {"class": "fix-wide"}})
    booked_on = tables.Column("Booked", empty_values=(), order_by=("booked_on", "technician__last_name", "pk"))
    technician = tables.Column(empty_values=(), visible=False)

    class Meta:
        model = Inspection
        fields = ()
        sequence = ("select", "machine", "place", "procedure", "due_on", "stage", "booked_on", "technician")
        order_by = ("due_on",)
        empty_text = "No inspection found"

    def __init__(self, *args, today, **kwargs):
        self.today = today
        super().__init__(*args, **kwargs)

    def render_select(self, record):
        if not record.can_be_booked:
            return ""
        return _tick("booking", record)

    def render_machine(self, value):
        return machine_link(value)

    def value_machine(self, value):
        return f"{value}, {value.model}"

    def render_place(self, record):
        return place(record.machine)

    def value_place(self, record):
        return f"{record.machine.area.name}, {record.machine.area.site.name}"

    def render_procedure(self, record, value):
        return link(key_address("inspections:inspection", record.pk), value)

    def render_due_on(self, record, value):
        if not record.is_overdue(self.today):
            return figure(day(value))
        return two_lines(figure(day(value)), mark("Overdue"))

    def value_due_on(self, value):
        return value.isoformat()

    def render_stage(self, record):
        if not getattr(record, "attempted", None):
            return mark(record.stage_label)
        words = attempt_in_words(record.last_attempt, record.last_attempt_until)
        times = f" (attempt {record.attempted})" if record.attempted > 1 else ""
        return with_note(mark(record.stage_label), f"{words}{times}")

    def value_stage(self, record):
        return record.stage_label

    def render_booked_on(self, record, value):
        if not record.technician:
            return quiet("not booked")
        return with_note(figure(day(value)), record.technician)

    def value_booked_on(self, value):
        return value.isoformat() if value else ""

    def value_technician(self, value):
        return str(value or "")


class SignedTable(InspectionTable):
    """What is signed or void: when and by whom, instead of for when it is booked."""

    signed_at = tables.Column("Signed", order_by=("signed_at", "pk"))
    signed_by = tables.Column(order_by=("signed_by__last_name", "pk"))
    result = tables.Column(accessor="result_words", orderable=False, empty_values=())

    class Meta(InspectionTable.Meta):
        exclude = ("booked_on", "technician")
        sequence = ("select", "machine", "place", "procedure", "due_on", "stage", "result", "signed_at", "signed_by")
        order_by = ("-signed_at",)

    def render_select(self, record):
        return _tick("papers", record)

    def render_result(self, value):
        return mark(value)

    def value_result(self, value):
        return value

    def render_signed_at(self, record, value):
        return figure(day(record.machine.site.date_of(value)))

    def value_signed_at(self, value):
        return value.isoformat()


class VoidTable(InspectionTable):
    voided_at = tables.Column("Voided", order_by=("voided_at", "pk"))
    void_reason = tables.Column("Reason", orderable=False)

    class Meta(InspectionTable.Meta):
        exclude = ("select", "booked_on", "technician")
        sequence = ("machine", "place", "procedure", "due_on", "stage", "voided_at", "void_reason")
        order_by = ("-voided_at",)

    def render_voided_at(self, record, value):
        return figure(day(record.machine.site.date_of(value)))

    def value_voided_at(self, value):
        return value.isoformat()


def _tick(form, record):
    """A box that chooses this inspection for the form of the page with the id `form`."""
    return tick(form, "inspection", record.pk, f"Select {record.procedure} of machine {record.machine}")
