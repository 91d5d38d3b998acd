"""The list of recent background jobs."""

import django_tables2 as tables

from fleet.models import Job
from fleet.tables.columns import FIX, MomentColumn


class JobTable(tables.Table):
    title = tables.Column("Job", linkify=True, attrs={"th": {"class": "wide-cell"}})
    by = tables.Column("Requested by", empty_values=(), order_by=("by__last_name", "by__first_name", "pk"))
    asked_at = MomentColumn("Requested")
    stage = tables.TemplateColumn(
        template_code='{% include "bobbin/mark.html" with word=record.get_stage_display %}', attrs=FIX
    )
    result = tables.Column("Result", empty_values=(), orderable=False)

    class Meta:
        model = Job
        fields = ("title", "by", "asked_at", "stage", "result")
        order_by = "-asked_at"
        empty_text = "No background jobs yet"

    def render_by(self, record):
        return record.by or "automatic"

    def render_result(self, record):
        if record.is_open:
            return f"{record.percent} %" if record.percent is not None else "—"
        return record.result or record.error or "—"
