"""Withdraw a machine from use, or retire it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import retire_machine, withdraw_machine
from fleet.errors import StatusRefused
from fleet.extensions import page_after_retirement
from fleet.forms.status import StatusChangeForm
from fleet.models import Area, Machine
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS, posted


@permission_required("fleet.withdraw_machine", raise_exception=True)
@require_http_methods(FORM_METHODS)
def machine_withdraw(request, pk):
    words = {"verb": "Withdraw from use", "done": "is withdrawn from use"}
    return _change_status(request, pk, withdraw_machine, "fleet/machine_withdraw.html", words)


@permission_required("fleet.retire_machine", raise_exception=True)
@require_http_methods(FORM_METHODS)
def machine_retire(request, pk):
    words = {"verb": "Retire", "done": "is retired; its records are kept"}
    return _change_status(request, pk, retire_machine, "fleet/machine_retire.html", words, page_after_retirement)


def _change_status(request, pk, action, template, words, page_after=Machine.get_absolute_url):
    machine = visible_machine(request, pk)
    form = StatusChangeForm(posted(request), initial=request.GET.dict())
    if request.method == "POST" and form.is_valid():
        try:
            action(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
            messages.success(request, f"Machine {machine} {words['done']}.")
        except StatusRefused as refused:
            messages.error(request, str(refused))
            return redirect(machine)
        return redirect(page_after(machine))
    area = Area.objects.with_in_service().select_related("site").get(pk=machine.area_id)
    left = area.in_service - machine.is_at_hand()
    context = {"machine": machine, "form": form, "area": area, "left": left, "is_short": left < area.minimum_machines}
    return render(request, template, {**context, **words})
