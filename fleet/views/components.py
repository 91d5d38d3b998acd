"""Fit and remove components of a machine, and change their connections."""

from dataclasses import asdict, dataclass

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import (
    fit_component,
    join_ports,
    disconnect_ports,
    remove_component,
    replace_component,
    take_out_component,
    undo_circuit_change,
)
from fleet.actions.circuit_copy import record_fields
from fleet.actions.circuit_edit import circuit_version
from fleet.circuits.machine_circuit import circuit_in_place, circuit_of
from fleet.documents import long_date
from fleet.errors import ComponentRefused
from fleet.forms.circuit import CircuitComponentForm, JoinForm, ReplacementForm, DisconnectForm, TakeOutForm, UndoForm
from fleet.forms.components import ComponentForm, KindForm, RemovalForm
from fleet.models import CircuitChange, Component
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS, posted


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_fit(request, pk):
    """Choose the kind first (GET), then enter its fields, and where it is inserted in the circuit."""
    machine = visible_machine(request, pk)
    kinds = KindForm(request.GET or None)
    form, circuit = None, circuit_of(machine, _today(machine)).circuit
    if kinds.is_bound and kinds.is_valid():
        form = _component_form(request, machine, kinds.cleaned_data["kind"], circuit)
        words = f"The component is fitted to machine {machine}."
        if _is_done(request, form, lambda: fit_component(machine, **form.details(), **_who(request)), words):
            return redirect("fleet:machine_circuit", machine.pk) if circuit else redirect(machine)
    between = request.GET.get("between", "")
    context = {"machine": machine, "kinds": kinds, "form": form, "circuit": circuit, "between": between}
    return render(request, "fleet/component_fit.html", context)


def _component_form(request, machine, kind, circuit):
    today = _today(machine)
    common = {"kind": kind, "today": today}
    if circuit is None:
        return ComponentForm(posted(request), initial={"fitted_on": today}, **common)
    initial = {"fitted_on": today, "seen": circuit_version(machine)}
    between = request.GET.get("between", "")
    return CircuitComponentForm(posted(request), initial=initial, circuit=circuit, between=between, **common)


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_remove(request, pk):
    """Remove a component without connections, as from a list; one of a circuit has its own page."""
    components = Component.objects.visible_to(request.user).select_related("machine__area__site")
    component = get_object_or_404(components, pk=pk)
    today = _today(component.machine)
    form = RemovalForm(posted(request), today=today, initial={"removed_on": today})
    words = f"{component} is removed from machine {component.machine}."
    if _is_done(request, form, lambda: remove_component(component, **form.cleaned_data, **_who(request)), words):
        return redirect(component.machine)
    return render(request, "fleet/component_remove.html", {"component": component, "form": form})


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_replace(request, pk, code):
    machine, component = _machine_and_component(request, pk, code)
    today = _today(machine)
    initial = {**ComponentForm.initial_of(record_fields(component)), "fitted_on": today, "seen": circuit_version(machine)}
    form = ReplacementForm(posted(request), kind=component.kind, today=today, initial=initial)
    words = f"{component} of machine {machine} is replaced."
    if _is_done(request, form, lambda: replace_component(machine, code, **form.details(), **_who(request)), words):
        return redirect("fleet:machine_circuit", machine.pk)
    return render(request, "fleet/component_replace.html", {"machine": machine, "component": component, "form": form})


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def component_take_out(request, pk, code):
    machine, component = _machine_and_component(request, pk, code)
    form = TakeOutForm(posted(request), **_started(machine))

    def act():
        return take_out_component(machine, code, **form.details(), **_who(request))

    page = ChangePage(f"Remove {component}", TAKE_OUT, "Remove the component", f"{component} is removed from machine {machine}.")
    return _change(request, machine, form, act, page)


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def circuit_join(request, pk):
    machine = visible_machine(request, pk)
    form = JoinForm(posted(request), circuit=circuit_in_place(machine, _today(machine)), **_started(machine))

    def act():
        return join_ports(machine, **form.cleaned_data, **_who(request))

    page = ChangePage("Connect two ports", JOIN, "Connect", f"The ports of machine {machine} are connected.", False)
    return _change(request, machine, form, act, page)


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def circuit_disconnect(request, pk):
    machine = visible_machine(request, pk)
    started = _started(machine, connection=request.GET.get("connection", request.GET.get("joint", "")))
    form = DisconnectForm(posted(request), circuit=circuit_in_place(machine, _today(machine)), **started)

    def act():
        return disconnect_ports(machine, **form.details(), **_who(request))

    done = f"The ports of machine {machine} are disconnected."
    return _change(request, machine, form, act, ChangePage("Disconnect two ports", DISCONNECT, "Disconnect", done))


@permission_required("fleet.add_component", raise_exception=True)
@require_http_methods(FORM_METHODS)
def circuit_undo(request, pk):
    changes = CircuitChange.objects.visible_to(request.user).select_related("machine__area__site", "by")
    change = get_object_or_404(changes, pk=pk)
    form = UndoForm(posted(request), initial={"seen": circuit_version(change.machine)})

    def act():
        return undo_circuit_change(change, **form.cleaned_data, **_who(request))

    lead = f"{change.get_verb_display()} on {long_date(change.changed_on)}: {change}. {UNDO}"
    done = f"“{change}” of machine {change.machine} is undone. The entry stays on record."
    page = ChangePage("Undo a change to the circuit", lead, "Undo", done)
    return _change(request, change.machine, form, act, page)


TAKE_OUT = (
    "The record of the component is kept, so the circuit of earlier days does not change. Record what was "
    "done, not what is planned."
)
JOIN = "Record a tube or hose that was fitted between two ports of this machine."
DISCONNECT = "Record a tube or hose that was removed. Both ports are then open to the room."
UNDO = (
    "Undo only an entry that was a mistake: the circuit of every day is then as if it had never been entered. "
    "If work on the machine was reversed, enter that as a further change."
)


@dataclass(frozen=True, slots=True)
class ChangePage:
    """The words of a page on which a circuit is changed, and the message when that is done."""

    title: str
    lead: str
    submit: str
    done: str
    danger: bool = True


def _change(request, machine, form, act, page):
    if _is_done(request, form, act, page.done):
        return redirect("fleet:machine_circuit", machine.pk)
    return render(request, "fleet/circuit_change.html", {"machine": machine, "form": form, **asdict(page)})


def _machine_and_component(request, pk, code):
    machine = visible_machine(request, pk)
    component = next((component for component in circuit_in_place(machine, _today(machine)).components if component.code == code), None)
    if component is None:
        raise Http404(f"Machine {machine} has no component “{code}” in its circuit.")
    return machine, component


def _today(machine):
    return machine.site.date_of(timezone.now())


def _started(machine, **initial):
    """Return the initial values of a form for a change."""
    today = _today(machine)
    return {"today": today, "initial": {"on": today, "seen": circuit_version(machine), **initial}}


def _who(request):
    return {"by": request.user, "at": timezone.now()}


def _is_done(request, form, act, words):
    """Act if the form was sent and is valid; a refusal is shown on the form, success as a message."""
    if request.method != "POST" or not form.is_valid():
        return False
    try:
        act()
    except ComponentRefused as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, words)
    return True
