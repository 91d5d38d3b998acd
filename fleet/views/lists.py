"""The view that every filtered list shares: filter, sort, page, and the table alone for htmx."""

from django.contrib.auth.mixins import PermissionRequiredMixin
from django.utils.cache import patch_vary_headers
from django.views.generic.list import ListView
from django_tables2 import SingleTableMixin

from fleet.web.query_values import show_page

ROWS = 25


class TableList(PermissionRequiredMixin, SingleTableMixin, ListView):
    """`get_queryset` sets `filter_form`; `part_name` is the template of the table alone, which the page includes."""

    raise_exception = True
    filter_form = None
    part_name = "fleet/_table.html"

    def get_table(self, **kwargs):
        table = self.get_table_class()(data=self.get_table_data(), **kwargs)
        show_page(self.request, table, ROWS)
        return table

    def get_context_data(self, **kwargs):
        return super().get_context_data(form=self.filter_form, **kwargs)

    def get_template_names(self):
        htmx = self.request.htmx
        return [self.part_name if htmx and not htmx.history_restore_request else self.template_name]

    def render_to_response(self, context, **kwargs):
        response = super().render_to_response(context, **kwargs)
        patch_vary_headers(response, ["HX-Request"])
        return response
