"""The list of planned alterations."""

import django_tables2 as tables

from fleet.models import AlterationPlan
from fleet.tables.cells import link, strong, with_note
from fleet.web.at_site import day_words


class AlterationTable(tables.Table):
    title = tables.Column("Alteration", order_by=("title", "pk"), attrs={"th": {"class": "wide-cell"}})
    from_date = tables.Column("From", order_by=("from_date", "pk"))
    planned = tables.Column("Left to do", order_by=("planned", "pk"))
    done = tables.Column("Carried out", order_by=("done", "pk"))
    left_out = tables.Column("Left out", order_by=("left_out", "pk"))
    by = tables.Column("Planned by", order_by=("by__username", "pk"))

    class Meta:
        model = AlterationPlan
        fields = ()
        sequence = ("title", "from_date", "planned", "done", "left_out", "by")
        order_by = ("-from_date",)
        empty_text = "No alteration matches. Plan one, for machines that a filter leaves."

    def render_title(self, record, value):
        return with_note(link(record.get_absolute_url(), value), record.in_words)

    def value_title(self, record, value):
        return f"{value}: {record.in_words}"

    def render_from_date(self, value):
        return day_words(value)

    def value_from_date(self, value):
        return value.isoformat()

    def render_planned(self, record, value):
        words = f"{value} of {record.number}"
        return strong(words) if value else words

    def value_planned(self, value):
        return value
