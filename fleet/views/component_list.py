"""The list of components of all machines."""

from fleet.forms.component_list import ComponentFilter
from fleet.models import Component, Machine
from fleet.models.querysets.among_keys import among
from fleet.models.querysets.scoped import FEW
from fleet.tables.components import ComponentTable
from fleet.views.keys_first import Groups
from fleet.views.lists import TableList

# No index of components has them in the order of asset numbers: machines have.
GROUPS = {
    ("machine__asset_number", "pk"): Groups(
        Machine._base_manager.order_by("asset_number"),
        lambda rows, machines: rows.filter(among("machine", machines)),
        sizes=(250, 2_000),
    )
}


class ComponentList(TableList):
    permission_required = "fleet.view_machine"
    table_class = ComponentTable
    filterset_class = ComponentFilter
    template_name = "fleet/component_list.html"
    export_permission = ["fleet.export_register"]
    export_name = "components"
    groups = GROUPS

    def get_rows(self):
        return Component.objects.visible_to(self.request.user).entered()

    def get_context_data(self, **kwargs):
        """A search that finds many is not counted to its end: that would take longer than the page."""
        if self.filterset.finds_many:
            self.total, self.is_cut = FEW, True
        return super().get_context_data(counted=self.total, **kwargs)

    def complete(self, rows):
        return rows.select_related("machine__area__site")
