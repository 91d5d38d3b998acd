"""The list of machines and the page of one machine."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import correct_machine, register_machine
from fleet.circuits.covers.panel import cover_panel
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.errors import Refused
from fleet.extensions import (
    MachineAction,
    annotated_machines,
    machine_actions,
    machine_events,
    machine_facts,
    machine_panels,
)
from fleet.forms.machines import MachineFilter, MachineForm
from fleet.imports.register_rows import register_rows
from fleet.machine_page.history import newest_first, register_events
from fleet.machine_page.state_on_day import components_on, status_on, feature_groups
from fleet.models import MachineStatus, Machine
from fleet.register_file import MACHINES
from fleet.tables.machines import CSV_HEADER, MachineTable, machine_csv_row
from fleet.views.lists import TableList
from fleet.views.register_files import written
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import day_asked, page_asked

EVENTS_ON_PAGE = 6
EVENTS_AT_ALL = 500


EXPORT = "fleet.export_register"


class MachineList(TableList):
    permission_required = "fleet.view_machine"
    export_permission = [EXPORT]
    export_name = "machines"
    filterset_class = MachineFilter
    table_class = MachineTable
    template_name = "fleet/machines.html"
    part_name = "fleet/_machine_table.html"

    def get_rows(self):
        return Machine.objects.visible_to(self.request.user).with_place().with_missing_essential(self.today)

    def get_queryset(self):
        return annotated_machines(super().get_queryset())

    def get_table_kwargs(self):
        return {"today": self.today}

    def export_rows(self, table):
        return CSV_HEADER, (machine_csv_row(machine) for machine in table.data.data.iterator(chunk_size=500))


class MachineFile(MachineList):
    """The list of machines as a CSV file, at an address of its own."""

    permission_required = ["fleet.view_machine", EXPORT]

    def get(self, request, *args, **kwargs):
        self.object_list = self.get_queryset()
        return self.export("csv")


class RegisterFile(MachineFile):
    """Send the filtered machines as a register file that can be edited and imported again."""

    def export(self, fmt):
        return written(register_rows(self.object_list, self.today), MACHINES, fmt, name="register")


def visible_machine(request, pk):
    """The machine of a page, which from here on is shown as its site shows things."""
    machine = get_object_or_404(Machine.objects.visible_to(request.user).with_place(), pk=pk)
    show_as_site(machine.site)
    return machine


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_page(request, pk):
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    day = day_asked(request, "on", today)
    is_past = day != today
    circuit = circuit_as_measured(machine, day, today=today)
    context = {
        "machine": machine,
        "day": day,
        "today": today,
        "is_past": is_past,
        "status_change": status_on(machine, day),
        "groups": feature_groups(machine, day),
        "components": components_on(machine, day),
        "circuit": circuit,
        "panels": [] if is_past else _panels(request, machine, circuit),
        "facts": [] if is_past else machine_facts(request, machine),
        "actions": [] if is_past else _own_actions(request.user, machine) + machine_actions(request, machine),
        "events": _events_until(request, machine, day) if is_past else _events(request, machine, EVENTS_ON_PAGE),
        "can_record": not is_past and request.user.has_perm("fleet.add_featurestate"),
        "can_fit": not is_past and request.user.has_perm("fleet.add_component"),
    }
    return render(request, "fleet/machine.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_history(request, pk):
    machine = visible_machine(request, pk)
    page = page_asked(request, _events(request, machine, EVENTS_AT_ALL), 40)
    return render(request, "fleet/machine_history.html", {"machine": machine, "page": page})


@permission_required("fleet.add_machine", raise_exception=True)
@require_http_methods(FORM_METHODS)
def machine_add(request):
    form = MachineForm(posted(request), person=request.user, initial={"in_use_from": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        machine = register_machine(by=request.user, at=timezone.now(), **form.cleaned_data)
        messages.success(
            request, f"Machine {machine} is in the register, with the safety features of its model when new."
        )
        return redirect(machine)
    return render(
        request,
        "fleet/machine_form.html",
        {"form": form, "title": "Enter a machine", "cancel_url": reverse("fleet:machines")},
    )


@permission_required("fleet.change_machine", raise_exception=True)
@require_http_methods(FORM_METHODS)
def machine_edit(request, pk):
    machine = visible_machine(request, pk)
    form = MachineForm(posted(request), instance=visible_machine(request, pk), person=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            machine = correct_machine(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"The register entry of machine {machine} is corrected.")
            return redirect(machine)
    context = {
        "form": form,
        "machine": machine,
        "title": f"Correct machine {machine}",
        "cancel_url": machine.get_absolute_url(),
    }
    return render(request, "fleet/machine_form.html", context)


def _events(request, machine, limit):
    return newest_first([*register_events(machine, limit), *machine_events(request, machine, limit)], limit)


def _events_until(request, machine, day):
    """Return the newest events up to the end of a past day."""
    events = _events(request, machine, EVENTS_AT_ALL)
    return [event for event in events if machine.site.date_of(event.at) <= day][:EVENTS_ON_PAGE]


def _panels(request, machine, circuit):
    panels = [*machine_panels(request, machine), cover_panel(machine, circuit)]
    return [render_to_string(template, context, request) for template, context in panels]


def _own_actions(person, machine):
    actions = []
    if machine.status == MachineStatus.IN_SERVICE and person.has_perm("fleet.withdraw_machine"):
        actions.append(
            MachineAction("Withdraw from use", reverse("fleet:machine_withdraw", args=[machine.pk]), "danger")
        )
    if machine.status != MachineStatus.RETIRED and person.has_perm("fleet.retire_machine"):
        actions.append(MachineAction("Retire", reverse("fleet:machine_retire", args=[machine.pk]), "danger"))
    if person.has_perm("fleet.change_machine"):
        actions.append(MachineAction("Correct entry", reverse("fleet:machine_edit", args=[machine.pk])))
    return actions
