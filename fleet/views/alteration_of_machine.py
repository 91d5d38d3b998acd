"""One machine of a planned alteration: what is to be done, carrying it out, leaving it out, taking it up again."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.actions import carry_out_alteration, leave_out_of_alteration, take_up_alteration_again
from fleet.actions.circuit_edit import circuit_version
from fleet.altering.estimates import Prices
from fleet.altering.paper import CAUTIONS
from fleet.altering.shown_plan import ShownEffect
from fleet.errors import Refused
from fleet.extensions import machine_actions
from fleet.forms.alterations import CarryOutForm, LeaveOutForm
from fleet.models import AlterationOfMachine
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted

VIEW, CHANGE = "fleet.view_alterationplan", "fleet.change_alterationofmachine"


@permission_required(VIEW, raise_exception=True)
@require_http_methods(FORM_METHODS)
def alteration_of_machine(request, pk):
    """Show what is to be done on one machine; whoever may carry alterations out does it here."""
    row = _row(request, pk)
    if request.method == "POST" and not request.user.has_perm(CHANGE):
        raise PermissionDenied
    machine, today = row.machine, row.machine.site.date_of(timezone.now())
    price, currency, minutes = Prices(row.plan, today).of(machine.model_id, machine.site.pk)
    initial = {"done_on": today, "minutes": minutes, "currency": currency, "seen": circuit_version(machine)}
    form = CarryOutForm(posted(request), initial=initial, today=today)
    if request.method == "POST" and form.is_valid() and _is_settled(request, form, row):
        return redirect(row)
    context = {
        "row": row, "plan": row.plan, "machine": machine, "form": form, "effect": _effect(row), "price": price,
        "currency": currency, "minutes": minutes, "cautions": (row.plan.entry.caution, *CAUTIONS),
        "next_steps": machine_actions(request, machine) if row.state == row.State.DONE else [],
    }  # fmt: skip
    return render(request, "fleet/alteration_of_machine.html", context)


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def alteration_leave_out(request, pk):
    row = _row(request, pk)
    form = LeaveOutForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            leave_out_of_alteration(row, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"Machine {row.machine} is left out.")
            return redirect(row.plan)
    return render(request, "fleet/alteration_leave_out.html", {"form": form, "row": row, "plan": row.plan})


@permission_required(CHANGE, raise_exception=True)
@require_POST
def alteration_take_up(request, pk):
    row = _row(request, pk)
    try:
        take_up_alteration_again(row, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"The alteration is planned again on machine {row.machine}.")
    return redirect(row)


def _row(request, pk):
    rows = AlterationOfMachine.objects.visible_to(request.user).with_place().select_related("plan__by")
    row = get_object_or_404(rows, pk=pk)
    show_as_site(row.machine.site)
    return row


def _effect(row):
    if row.effect is None:
        return None
    row.effect.number = row.effect.planned = 1
    return ShownEffect(row.effect)


def _is_settled(request, form, row):
    """Carry it out. Return whether the machine is settled, by this person or by somebody before; else say why not."""
    try:
        carry_out_alteration(row, by=request.user, at=timezone.now(), **form.cleaned_data)
    except Refused as refused:
        if row.is_planned:
            form.add_error(None, str(refused))
            return False
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Machine {row.machine} is altered. It waits for its retest and its release.")
    return True
