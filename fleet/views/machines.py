"""The list of machines, entering one and correcting it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import correct_machine, register_machine
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.current_state.reading import holds_on
from fleet.errors import Refused
from fleet.extensions import annotated_machines, list_links
from fleet.forms.machines import MachineFilter, MachineForm
from fleet.imports.register_rows import register_rows
from fleet.models import Area, CurrentState, Machine
from fleet.register_file import MACHINES
from fleet.tables.machines import CSV_HEADER, MachineTable, machine_csv_row
from fleet.views.keys_first import Groups
from fleet.views.lists import TableList
from fleet.views.register_files import written
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import day_asked

EXPORT = "fleet.export_register"


class MachineList(TableList):
    permission_required = "fleet.view_machine"
    export_permission = [EXPORT]
    export_name = "machines"
    filterset_class = MachineFilter
    table_class = MachineTable
    template_name = "fleet/machines.html"
    part_name = "fleet/_machine_table.html"
    groups = {
        ("area__site__name", "area__name", "pk"): Groups(
            Area.objects.order_by("site__name", "name"),
            lambda rows, areas: rows.filter(area__in=areas),
            sizes=(1, 4, 16),
        )
    }
    is_file = False

    def setup(self, request, *args, **kwargs):
        super().setup(request, *args, **kwargs)
        self.has_current = not self.is_file and not request.GET.get("export") and holds_on(self.today)

    def get_rows(self):
        """Return the rows that are filtered and sorted: the current states where they hold, else the machines."""
        rows = CurrentState if self.has_current else Machine
        return rows.objects.visible_to(self.request.user)

    def complete(self, rows):
        if self.has_current:
            return Machine.objects.filter(pk__in=rows.values("pk")).with_place().select_related("current")
        return annotated_machines(rows.with_place().with_missing_essential(self.today))

    def get_table_kwargs(self):
        return {"today": self.today, "has_current": self.has_current}

    def get_context_data(self, **kwargs):
        return super().get_context_data(list_links=list_links(self.request), **kwargs)

    def export_rows(self, table):
        return CSV_HEADER, (machine_csv_row(machine) for machine in table.data.data.iterator(chunk_size=500))


class MachineFile(MachineList):
    """The list of machines as a CSV file, at an address of its own."""

    permission_required = ["fleet.view_machine", EXPORT]
    is_file = True

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


def machine_on_day(request, pk):
    """Return the machine, the day that the page is asked for, today at its site, and its circuit on that day."""
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    day = day_asked(request, "on", today)
    found = circuit_as_measured(machine, day, today=today)
    return machine, day, today, found


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
        {"form": form, "title": "Add a machine", "cancel_url": reverse("fleet:machines")},
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
