"""The list of what values of files mean."""

import django_tables2 as tables
from django.urls import reverse

from fleet.models import ValueMeaning
from fleet.tables.cells import link
from fleet.tables.columns import ActionColumn, DayColumn


class ValueMeaningTable(tables.Table):
    written = tables.Column("In the file", attrs={"td": {"class": "code"}})
    column = tables.Column("Column", attrs={"td": {"class": "code"}})
    meaning = tables.Column("Means", accessor="meaning_words", order_by="meaning")
    kind = tables.Column("Kind of file", accessor="kind_words", order_by="kind")
    site = tables.Column("Within", default="every site")
    by = tables.Column("Answered by", default="a person who is removed")
    said_at = DayColumn("On")
    forget = ActionColumn()

    class Meta:
        model = ValueMeaning
        fields = ("written", "column", "meaning", "kind", "site", "by", "said_at")
        order_by = ("column", "written")
        empty_text = (
            "No value has been given a meaning. Import a file; you are asked about what the register does not know."
        )

    def render_forget(self, record):
        return link(reverse("fleet:value_meaning_forget", args=[record.pk]), "Forget", hidden=record.written)
