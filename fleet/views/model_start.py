"""A machine model that starts from a kind of machine, with its circuit from the kit."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import add_model
from fleet.circuit.kit import MACHINE_KINDS
from fleet.forms.model_start import ModelStartForm, preview_of
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked


@permission_required("fleet.add_machinemodel", raise_exception=True)
@require_http_methods(FORM_METHODS)
def model_start(request):
    """Ask for the kind of machine, then for what differs from it; the circuit is shown before it is saved."""
    code = choice_asked(request, "kind", MACHINE_KINDS)
    if not code:
        return render(request, "fleet/model_kinds.html", {"kinds": MACHINE_KINDS.values()})
    form = ModelStartForm(posted(request), kind=MACHINE_KINDS[code])
    preview = None
    if request.method == "POST" and form.is_valid():
        details = form.details()
        if "look" not in request.POST:
            model = add_model(**details, by=request.user, at=timezone.now())
            messages.success(request, f"{model} is saved, with its circuit and safety features when new.")
            return redirect(model)
        preview = preview_of(details)
    return render(request, "fleet/model_start.html", {"form": form, "kind": MACHINE_KINDS[code], "preview": preview})
