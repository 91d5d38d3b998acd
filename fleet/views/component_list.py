"""The list of components of all machines."""

from fleet.forms.component_list import ComponentFilter
from fleet.models import Component
from fleet.tables.components import ComponentTable
from fleet.views.lists import TableList


class ComponentList(TableList):
    permission_required = "fleet.view_machine"
    table_class = ComponentTable
    filterset_class = ComponentFilter
    template_name = "fleet/component_list.html"
    export_permission = ["fleet.export_register"]
    export_name = "components"

    def get_rows(self):
        return Component.objects.visible_to(self.request.user).filter(machine__staged="")

    def complete(self, rows):
        return rows.select_related("machine__area__site")
