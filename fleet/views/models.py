"""Machine models: the list and the page of one."""

from django.contrib.auth.decorators import permission_required
from django.contrib.auth.mixins import PermissionRequiredMixin
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe
from django_tables2 import SingleTableView

from fleet.catalogue import get_gas
from fleet.models import Machine, MachineModel
from fleet.story import default_groups
from fleet.tables.models import MachineModelTable


class ModelList(PermissionRequiredMixin, SingleTableView):
    permission_required = "fleet.view_machine"
    raise_exception = True
    table_class = MachineModelTable
    template_name = "fleet/models.html"
    table_pagination = {"per_page": 25}

    def get_queryset(self):
        return MachineModel.objects.with_duties(self.request.user)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def model_page(request, pk):
    model = get_object_or_404(MachineModel, pk=pk)
    machines = Machine.objects.visible_to(request.user).filter(model=model).with_place()
    context = {
        "model": model,
        "gases": [get_gas(code).name for code in model.gases],
        "groups": default_groups(model),
        "page": Paginator(machines, 25).get_page(request.GET.get("page")),
    }
    return render(request, "fleet/model.html", context)
