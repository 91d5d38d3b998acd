"""The gas circuit of a machine: its page, its PDF, its file."""

from django.conf import settings
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from fleet.actions.circuit_edit import circuit_version
from fleet.circuit.files import write_circuit
from fleet.circuits.machine_circuit import circuit_of_model
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.circuits.paper import CAUTIONS, write_circuit_paper
from fleet.circuits.state_view import choices_of, ordinary, view_of
from fleet.forms.circuit import connection_key, connection_words
from fleet.forms.circuit_page import CircuitViewForm
from fleet.models import CircuitChange, MachineModel
from fleet.views.machines import visible_machine
from fleet.web.query_values import day_asked

CHANGES_ON_PAGE = 40


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_circuit(request, pk):
    """Show the circuit as of a date, in the chosen state or with the chosen fault."""
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    day = day_asked(request, "on", today)
    found = circuit_as_measured(machine, day, today=today)
    context = {
        "machine": machine,
        "found": found,
        "day": day,
        "today": today,
        "is_past": day != today,
        "cautions": CAUTIONS,
        **_shown(request, found),
        **_editing(request, machine, found, is_past=day != today),
    }
    return _page_or_part(request, "fleet/machine_circuit.html", "fleet/_machine_circuit.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_circuit_pdf(request, pk):
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    day = day_asked(request, "on", today)
    found = circuit_as_measured(machine, day, today=today)
    if found.circuit is None:
        raise Http404(f"No circuit is recorded for machine {machine}.")
    form = CircuitViewForm(request.GET, groups=choices_of(found.circuit) if found.can_be_solved else [])
    content = write_circuit_paper(
        machine,
        found,
        form.choice or (ordinary(found.circuit) if found.can_be_solved else None),
        day=day,
        units=form.unit,
        colours=settings.GAS_COLOURS,
        made=f"Made for {request.user}, {today}",
    )
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="circuit-{machine.pk}-{day}.pdf"'
    return response


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_circuit_file(request, pk):
    """Send the circuit as a file, with its measured values."""
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    day = day_asked(request, "on", today)
    found = circuit_as_measured(machine, day, today=today)
    return _file(found.circuit, f"machine {machine}", f"circuit-{machine.pk}-{day}.toml")


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def model_circuit(request, pk):
    """Show the circuit of a new machine of a model."""
    model = get_object_or_404(MachineModel, pk=pk)
    found = circuit_of_model(model)
    context = {"model": model, "found": found, "cautions": CAUTIONS, **_shown(request, found)}
    return _page_or_part(request, "fleet/model_circuit.html", "fleet/_circuit_view.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def model_circuit_file(request, pk):
    model = get_object_or_404(MachineModel, pk=pk)
    return _file(circuit_of_model(model).circuit, str(model), f"circuit-{model.code}.toml")


def _page_or_part(request, page, fragment, context):
    """Return the whole page, or for htmx the section that depends on the state."""
    is_part = request.htmx and not request.htmx.history_restore_request
    response = render(request, fragment if is_part else page, context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _file(circuit, whose, name):
    if circuit is None:
        raise Http404(f"No circuit is recorded for {whose}.")
    response = HttpResponse(write_circuit(circuit), content_type="application/toml; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _shown(request, found):
    """Return the choice, solved and drawn; only the components where nothing can be solved."""
    if found.circuit is None:
        return {"view": None, "form": None}
    groups = choices_of(found.circuit) if found.can_be_solved else []
    form = CircuitViewForm(request.GET, groups=groups)
    choice = form.choice or (ordinary(found.circuit) if groups else None)
    return {"form": form, "view": view_of(found, choice, units=form.unit, colours=settings.GAS_COLOURS)}


def _editing(request, machine, found, *, is_past):
    """Return what the page lists for editing: connections, loose components, earlier changes."""
    changes = CircuitChange.objects.filter(machine=machine).select_related("by", "undone_by")[:CHANGES_ON_PAGE]
    labels = {component.code: component.label for component in found.circuit.components} if found.circuit else {}
    connections = found.circuit.connections if found.circuit else ()
    return {
        "changes": changes,
        "version": circuit_version(machine),
        "connections": [(connection_key(connection), connection_words(connection, labels)) for connection in connections],
        "measured": found.measured_lines,
        "can_change": not is_past and request.user.has_perm("fleet.add_component"),
    }
