"""The list of machines, on the page and as CSV."""

import django_tables2 as tables
from django.db.models import F

from fleet.catalogue import get_feature
from fleet.catalogue.feature_bits import ESSENTIAL_MASK, codes_in
from fleet.extensions import annotated_machines
from fleet.tables.cells import counted, mark, quiet, with_note
from fleet.web.at_site import day_words


class MachineTable(tables.Table):
    asset_number = tables.Column(linkify=True, attrs={"th": {"class": "fix"}, "td": {"class": "fix"}})
    model = tables.Column(order_by=("model__manufacturer", "model__name"))
    area = tables.Column("Location", order_by=("area__site__name", "area__name"))
    built_year = tables.Column("Built", attrs={"th": {"class": "num"}, "td": {"class": "num"}}, localize=False)
    status = tables.TemplateColumn(
        template_code='{% include "bobbin/mark.html" with word=record.get_status_display %}',
        attrs={"td": {"class": "fix-wide"}},
        verbose_name="Status",
    )
    missing = tables.Column(
        "Essential missing", empty_values=(), order_by="missing_count", attrs={"th": {"class": "wide-cell"}}
    )
    next_due_on = tables.Column("Next due", empty_values=(), attrs={"td": {"class": "fix"}})

    class Meta:
        fields = ("asset_number", "model", "area", "built_year", "status", "missing", "next_due_on")
        attrs = {"class": "machines"}
        order_by = "asset_number"
        empty_text = "No machine matches. Remove a filter, or add or import machines."

    def __init__(self, *args, today, has_current=False, **kwargs):
        self.today, self.has_current = today, has_current
        super().__init__(*args, **kwargs)

    def render_area(self, record):
        return with_note(record.area.name, record.area.site.name)

    def render_missing(self, record):
        names = missing_names(record)
        return counted(names) if names else quiet("None")

    def render_next_due_on(self, record):
        day, closes_on = next_due(record)
        if day is None:
            return "—"
        words = f"{day_words(day)}"
        if (closes_on or day) < self.today:
            return mark(words, "overdue", hidden="overdue")
        return mark(words, "not-due")

    def order_missing(self, rows, is_descending):
        sign = "-" if is_descending else ""
        if self.has_current:
            return rows.order_by(f"{sign}missing", "asset_number"), True
        return rows.with_missing_count(self.today).order_by(f"{sign}missing_count", "asset_number"), True

    def order_built_year(self, rows, is_descending):
        path = "machine__built_year" if self.has_current else "built_year"
        return rows.order_by(f"{'-' if is_descending else ''}{path}", "asset_number"), True

    def order_next_due_on(self, rows, is_descending):
        rows = rows if self.has_current else annotated_machines(rows)
        if not self.has_current and "next_due_on" not in rows.query.annotations:
            return rows, True
        due = F("next_due_on")
        order = due.desc(nulls_last=True) if is_descending else due.asc(nulls_last=True)
        return rows.order_by(order, "asset_number"), True


CSV_HEADER = (
    "asset_number", "serial", "model", "site", "area", "built_year", "in_use_from", "status",
    "essential_missing", "essential_missing_names", "next_due_on",
)  # fmt: skip


def machine_csv_row(record):
    """The same machine as cells of a CSV row, in the order of CSV_HEADER."""
    names = missing_names(record)
    return (
        record.asset_number, record.serial, str(record.model), record.site.name, record.area.name,
        record.built_year or "", record.in_use_from, record.status, len(names), "; ".join(names),
        next_due(record)[0] or "",
    )  # fmt: skip


def missing_names(record):
    """Return the names of the essential safety features that are gaps, from the row of the machine if it is there."""
    if _has_row(record):
        return [get_feature(code).name for code in codes_in(record.current.gaps & ESSENTIAL_MASK)]
    return [get_feature(row.feature).name for row in record.missing_essential]


def next_due(record):
    """Return the day on which the next inspection is due and the last day of its window; None twice without one."""
    row = record.current if _has_row(record) else record
    return getattr(row, "next_due_on", None), getattr(row, "next_closes_on", None)


def _has_row(record):
    return "current" in record._state.fields_cache
