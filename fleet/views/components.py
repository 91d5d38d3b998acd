"""Fit and remove parts of a machine."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import fit_component, remove_component
from fleet.errors import ComponentRefused
from fleet.forms.components import ComponentForm, KindForm, RemovalForm
from fleet.http import FORM_METHODS, posted
from fleet.models import Component
from fleet.views.machines import visible_machine


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_fit(request, pk):
    """Choose the kind first (GET), then enter what a part of that kind has."""
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    kinds = KindForm(request.GET or None)
    form = None
    if kinds.is_bound and kinds.is_valid():
        form = ComponentForm(
            posted(request), kind=kinds.cleaned_data["kind"], today=today, initial={"fitted_on": today}
        )
        if request.method == "POST" and form.is_valid() and _is_fitted(request, machine, form):
            return redirect(machine)
    return render(request, "fleet/component_fit.html", {"machine": machine, "kinds": kinds, "form": form})


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_remove(request, pk):
    parts = Component.objects.visible_to(request.user).select_related("machine__area__site")
    component = get_object_or_404(parts, pk=pk)
    today = component.machine.site.date_of(timezone.now())
    form = RemovalForm(posted(request), today=today, initial={"removed_on": today})
    if request.method == "POST" and form.is_valid():
        try:
            remove_component(component, by=request.user, at=timezone.now(), **form.cleaned_data)
        except ComponentRefused as refused:
            form.add_error("removed_on", str(refused))
        else:
            messages.success(request, f"{component} is removed from machine {component.machine}.")
            return redirect(component.machine)
    return render(request, "fleet/component_remove.html", {"component": component, "form": form})


def _is_fitted(request, machine, form):
    try:
        part = fit_component(machine, by=request.user, at=timezone.now(), **form.details())
    except ComponentRefused as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, f"{part} is fitted to machine {machine}.")
    return True
