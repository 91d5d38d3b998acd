"""The watch list of trends: which results drift to a limit, and what helps."""

from fleet.views.lists import TableList
from inspections.forms.trends import EVERY, TrendFilter
from inspections.models import TrendForecast
from inspections.tables.trends import TrendTable
from inspections.trends import POLICY

EMPTY = (
    "No result is likely to be outside its limit when it is next due. Trends are computed every night from at least "
    "three signed inspections of a machine."
)


class TrendList(TableList):
    permission_required = "inspections.view_inspection"
    export_permission = ["fleet.export_register"]
    export_name = "trends"
    filterset_class = TrendFilter
    table_class = TrendTable
    template_name = "inspections/trends.html"

    def get_rows(self):
        return TrendForecast.objects.visible_to(self.request.user).towards_a_limit()

    def get_queryset(self):
        kept = super().get_queryset()
        self.counts = kept.counts_of_advice()
        shown = self.filterset.asked["show"]
        if shown != EVERY:
            kept = kept.with_advice(shown) if shown else kept.to_watch()
        return kept.likeliest_first()

    def complete(self, rows):
        return rows.with_place()

    def get_table_kwargs(self):
        return {"empty_text": EMPTY}

    def get_context_data(self, **kwargs):
        return super().get_context_data(counts=self.counts, policy_percent=100 * POLICY, **kwargs)
