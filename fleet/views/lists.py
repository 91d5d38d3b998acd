"""The view that every list shares: filter, sort, page, the table alone for htmx, and all rows as a file."""

from django.contrib.auth.mixins import PermissionRequiredMixin
from django.core.exceptions import PermissionDenied
from django.utils import timezone
from django.views.generic.list import ListView
from django_tables2 import SingleTableMixin

from fleet.tables.files import FORMATS, list_file
from fleet.views.keys_first import KeysFirst
from fleet.web.page_part import vary_by_part, wants_part
from fleet.web.query_values import choice_asked, show_page, sort_all, with_present_names

ROWS = 25


class TableList(PermissionRequiredMixin, SingleTableMixin, ListView):
    """A list has `table_class` and `get_rows`, and `filterset_class` if it can be narrowed.

    part_name          the template of the table alone, which the page includes
    export_permission  what a file of the list needs besides the permission of the page
    total              how many rows the filter leaves, where the page has counted them anyway
    is_cut             whether there are more than `total`, of which no page shows the rest
    complete           function of a queryset that adds what the table shows; then a page is read keys first
    parts, groups      function of a queryset that parts the rows for KeysFirst, and its groups by order
    export_headings    the names of columns in a file that differ from those on the page, by the name on the page
    """

    raise_exception = True
    http_method_names = ["get", "head", "options"]
    filterset_class = None
    filter_form = None
    part_name = "fleet/_table.html"
    export_permission = ()
    export_name = "list"
    export_headings = {}
    complete = None
    parts = None
    groups = None
    total = None
    is_cut = False
    rows_per_page = ROWS

    def setup(self, request, *args, **kwargs):
        super().setup(request, *args, **kwargs)
        asked = request.GET
        if (present := with_present_names(asked)) is not asked:
            request.GET = present
        self.now = timezone.now()
        self.today = timezone.localdate(self.now)

    def get(self, request, *args, **kwargs):
        self.object_list = self.get_queryset()
        fmt = choice_asked(request, "export", FORMATS)
        return self.export(fmt) if fmt else self.render_to_response(self.get_context_data())

    def get_rows(self):
        """Return all rows that the person may see."""
        raise NotImplementedError

    def get_queryset(self):
        """Return the rows that the filter leaves, and set `filter_form`."""
        return self.narrowed(self.get_rows())

    def narrowed(self, rows):
        if self.filterset_class is None:
            return rows
        self.filterset = self.filterset_class(self.request.GET, rows, request=self.request)
        self.filter_form = self.filterset.form
        return self.filterset.rows()

    def make_table(self, **kwargs):
        """Return the table of the rows, not sorted yet."""
        data = self.get_table_data()
        if self.complete is not None:
            data = KeysFirst(data, self.complete, self.total, self.parts, self.is_cut, self.groups)
        return self.get_table_class()(data=data, **kwargs)

    def get_table(self, **kwargs):
        table = self.make_table(**kwargs)
        show_page(self.request, table, self.rows_per_page)
        return table

    def export(self, fmt):
        """Answer with a file of all rows that the filter leaves, in the order that the address asks for."""
        if not self.may_export():
            raise PermissionDenied
        table = self.make_table(**self.get_table_kwargs())
        sort_all(self.request, table)
        if self.complete is not None:
            table.data.data = self.complete(table.data.data)
        header, rows = self.export_rows(table)
        return list_file(f"{self.export_name}.{fmt}", header, rows)

    def export_rows(self, table):
        """Return the header and the rows of the file."""
        lines = table.as_values()
        return [self.export_headings.get(name, name) for name in next(lines)], lines

    def may_export(self):
        return self.request.user.has_perms(self.export_permission)

    def get_context_data(self, **kwargs):
        return super().get_context_data(form=self.filter_form, may_export=self.may_export(), **kwargs)

    def get_template_names(self):
        return [self.part_name if wants_part(self.request) else self.template_name]

    def render_to_response(self, context, **kwargs):
        return vary_by_part(super().render_to_response(context, **kwargs))
