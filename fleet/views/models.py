"""Machine models: the list and the page of one."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import add_model, change_model
from fleet.catalogue import get_gas
from fleet.circuits.machine_circuit import circuit_of_model
from fleet.forms.models import MachineModelForm, ModelFeaturesForm
from fleet.machine_page.state_on_day import default_groups
from fleet.models import Machine, MachineModel
from fleet.place_format import money_text
from fleet.tables.models import MachineModelTable, PurgeTable
from fleet.views.lists import TableList
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked


class ModelList(TableList):
    permission_required = "fleet.view_machine"
    table_class = MachineModelTable
    export_name = "models"
    template_name = "fleet/models.html"

    def get_rows(self):
        return MachineModel.objects.with_status_counts(self.request.user)


class PurgeList(TableList):
    """The models in service that give vapour, with how long each is purged before vapour-free use."""

    permission_required = "fleet.view_machine"
    table_class = PurgeTable
    export_name = "purge-times"
    template_name = "fleet/purge_times.html"

    def get_rows(self):
        return MachineModel.objects.that_give_vapour().with_status_counts(self.request.user).filter(in_service__gt=0)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def model_page(request, pk):
    model = get_object_or_404(MachineModel, pk=pk)
    machines = Machine.objects.visible_to(request.user).filter(model=model).with_place()
    context = {
        "model": model,
        "gases": [get_gas(code).name for code in model.gases],
        "groups": default_groups(model),
        "circuit": circuit_of_model(model),
        "price": _price(request.user, model),
        "page": page_asked(request, machines, 25),
    }
    return render(request, "fleet/model.html", context)


def _price(person, model):
    """The replacement price that counts, for a person who may see prices; None if none is known."""
    row = model.replacement_prices.in_force().first() if person.has_perm("fleet.view_money") else None
    return row and {"amount": money_text(row.price, row.currency), "row": row}


@permission_required("fleet.add_machinemodel", raise_exception=True)
@require_http_methods(FORM_METHODS)
def model_add(request):
    return _edit(request, None)


@permission_required("fleet.change_machinemodel", raise_exception=True)
@require_http_methods(FORM_METHODS)
def model_edit(request, pk):
    return _edit(request, get_object_or_404(MachineModel, pk=pk))


def _edit(request, model):
    form = MachineModelForm(posted(request), request.FILES or None, instance=model)
    features = ModelFeaturesForm(posted(request), model=model, prefix="when-new")
    title = f"Correct {model}" if model else "Add a machine model"
    if request.method == "POST" and form.is_valid() and features.is_valid():
        details = {**form.details(), "features": features.states(), "by": request.user, "at": timezone.now()}
        model = change_model(model, **details) if model else add_model(**details)
        messages.success(request, f"{model} is saved. Machines already in the register are not changed.")
        return redirect(model)
    return render(
        request, "fleet/model_form.html", {"form": form, "features": features, "model": model, "title": title}
    )
