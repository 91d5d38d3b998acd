"""The on-time figure with its definition, and the due dates that it is made of."""

from urllib.parse import urlencode

from dateutil.relativedelta import relativedelta
from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.models import Area, Machine
from fleet.models.querysets.among_keys import among
from fleet.views.keys_first import Groups
from fleet.views.lists import TableList
from fleet.web.query_values import QueryRefused, choice_asked, page_asked
from inspections.forms.on_time import DueDateFilter, PeriodFilter, narrow_answers
from inspections.kept.due_dates import in_period, listed_in_period, seen_due_dates, shown_due_dates
from inspections.models import Inspection, KeptDueDate
from inspections.pictures.of_work import on_time_picture
from inspections.schedule.on_time import NOT_COUNTED, answered, default_period
from inspections.schedule.on_time_figures import DIMENSIONS, split_figure
from inspections.tables.due_dates import DueDateTable

LINES = 50  # on one page
# Orders that no index of due dates has, by what has them.
GROUPS = {
    ("machine__asset_number", "pk"): Groups(
        Machine._base_manager.order_by("asset_number"),
        lambda rows, machines: rows.filter(among("machine", machines)),
        sizes=(250, 2_000),
    ),
    ("site_was", "area_was", "pk"): Groups(
        Area.objects.order_by("site__name", "name"),
        lambda rows, areas: rows.filter(area_then__in=areas),
        sizes=(1, 2, 4, 8),
    ),
}


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def on_time(request):
    """The figure in all, and of each value of one dimension."""
    narrowed = PeriodFilter(request.GET, seen_due_dates(request.user), request=request)
    today = timezone.localdate()
    first, last = period_asked(narrowed.asked, today)
    by = choice_asked(request, "by", DIMENSIONS, "month")
    figure, lines = split_figure(in_period(narrowed.rows(), first, last, today), by)
    page = page_asked(request, lines, LINES)
    of_all = _addressed(narrowed.asked, first, last)
    context = {
        "form": narrowed.form,
        "first": first,
        "last": last,
        "by": by,
        "dimension": DIMENSIONS[by],
        "dimensions": DIMENSIONS.items(),
        "figure": figure,
        "not_counted": NOT_COUNTED,
        "picture": on_time_picture(lines) if by == "month" else None,
        "rows_url": _rows_url(of_all),
        "page": page,
        "lines": [(line, _rows_url(of_all | _narrowed_to(by, line, first, last))) for line in page],
    }
    return render(request, "inspections/on_time.html", context)


def period_asked(asked, today):
    """The first and the last day asked for; those that are not are of the last 12 months. Raise QueryRefused."""
    first, last = default_period(today)
    first, last = asked["since"] or first, asked["until"] or last
    if first > last:
        raise QueryRefused(f"since: {first} is after {last}. Enter a first day that is not after the last one.")
    return first, last


def _addressed(asked, first, last):
    """What the address of the list asks for to be narrowed as this page is."""
    chosen = {name: asked[name].pk for name in ("site", "area", "procedure", "model") if asked[name]}
    return {"since": first.isoformat(), "until": last.isoformat(), **chosen}


def _narrowed_to(dimension, line, first, last):
    """What the address of the list asks for besides, to hold the due dates of one line."""
    if dimension == "month":
        end = line.key + relativedelta(months=1, days=-1)
        return {"since": max(first, line.key).isoformat(), "until": min(last, end).isoformat()}
    return {} if dimension == "class" else {dimension: line.key}


def _rows_url(asked):
    return f"{reverse('inspections:due_dates')}?{urlencode(asked)}"


class DueDateList(TableList):
    """Pages are read from kept due dates, by which they are in order; files hold what these follow from."""

    permission_required = "inspections.view_inspection"
    filterset_class = DueDateFilter
    table_class = DueDateTable
    template_name = "inspections/due_dates.html"
    export_name = "due-dates"
    groups = GROUPS

    def get_rows(self):
        if "export" in self.request.GET:
            return Inspection.objects.visible_where_due(self.request.user)
        return seen_due_dates(self.request.user)

    def get_queryset(self):
        narrowed = super().get_queryset()
        asked = self.filterset.asked
        self.first, self.last = period_asked(asked, self.today)
        return narrow_answers(listed_in_period(narrowed, self.first, self.last, self.today), asked)

    def complete(self, rows):
        if rows.model is KeptDueDate:
            return shown_due_dates(rows)
        if "answered_by" not in rows.query.annotations:  # the rows of a page, by their keys
            rows = answered(rows).with_words_where_due()
        return rows.with_place()

    def get_context_data(self, **kwargs):
        return super().get_context_data(first=self.first, last=self.last, **kwargs)
