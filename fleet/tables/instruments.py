"""The list of instruments with their calibration."""

import django_tables2 as tables
from django.db.models import F

from fleet.models import Instrument
from fleet.tables.cells import mark
from fleet.tables.columns import DayColumn

STANDINGS = {
    "ok": ("not-due", "In calibration"),
    "soon": ("due", "Due within 30 days"),
    "out": ("overdue", "Out of calibration"),
}


def standing_mark(standing):
    """The drawn mark and word of a calibration standing: ok, soon or out."""
    look, word = STANDINGS[standing]
    return mark(word, look)


class InstrumentTable(tables.Table):
    code = tables.Column(linkify=True, attrs={"td": {"class": "fix"}})
    standing = tables.Column("Calibration", order_by="due_on")
    due_on = DayColumn("Valid until")
    calibrated_on = DayColumn("Calibrated")

    class Meta:
        model = Instrument
        fields = ("code", "name", "serial", "site", "standing", "due_on", "calibrated_on")
        order_by = "due_on"
        empty_text = "No instrument matches. Remove a filter, or enter an instrument."

    def render_standing(self, value):
        return standing_mark(value)

    def order_due_on(self, instruments, is_descending):
        due = F("due_on")
        order = due.desc(nulls_last=True) if is_descending else due.asc(nulls_first=True)
        return instruments.order_by(order, "code"), True

    order_standing = order_due_on
