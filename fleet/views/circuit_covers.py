"""The cover table of a machine's gas circuit: its page, its files, and requests to compute it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.actions import request_job
from fleet.circuits.covers.closing_features import shown_closing
from fleet.circuits.covers.export import CSV_HEADER, as_json, csv_row
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.circuits.covers.on_view import compute_on_view, is_wanted
from fleet.circuits.covers.pairs import CIRCUIT_PAIRS
from fleet.circuits.covers.panel import gaps_panel, open_hazard_lines, waiting_for
from fleet.circuits.covers.rows_in_words import ShownRow, counted, read_closing, read_table
from fleet.circuits.covers.validity import standing_of
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.export.download import csv_download, file_response
from fleet.forms.circuit_covers import CoverTableForm, PairsForm
from fleet.machine_page.state_on_day import feature_groups
from fleet.models import MachineCover, Site
from fleet.views.machines import visible_machine
from fleet.web.page_part import wants_part
from fleet.web.query_values import page_asked
from fleet.web.sent_numbers import sent_number

ROWS = 40
CAUTIONS = (
    "Computed from the circuit as recorded, in steady flow. This is not a pre-use check of the machine, and it covers "
    "only the faults in its list.",
    "For qualified personnel. Alter a machine only as the manufacturer's instructions allow, or with the "
    "manufacturer's agreement, then test it.",
    "Electric shock and fire cannot be assessed from a gas circuit.",
)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_cover(request, pk):
    """Show hazard by cause what stops it or alarms, filtered, a page at a time."""
    machine = visible_machine(request, pk)
    kept = MachineCover.objects.filter(machine=machine).select_related("cover").first()
    table = read_table(kept.cover) if kept and kept.cover else None
    today = machine.site.date_of(timezone.now())
    form = CoverTableForm(request.GET)
    rows = form.keep(table.rows) if table else []
    page = page_asked(request, [ShownRow(row) for row in rows], ROWS)
    standing = standing_of(machine, kept, circuit_as_measured(machine, today, today=today))
    context = {
        "machine": machine,
        "kept": kept,
        "table": table,
        "hazards": open_hazard_lines(kept),
        "form": form,
        "counts": counted(table.first_rows) if table else [],
        "page": page,
        "closing": shown_closing(read_closing(kept.cover)) if table else None,
        "standing": standing,
        "wants_cover": is_wanted(machine, kept, standing),
        "pairs_form": PairsForm(initial={"at_least": "common"}),
        "cautions": CAUTIONS,
    }
    return render(request, "fleet/machine_cover.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_cover_file(request, pk, fmt):
    """Send the whole table as CSV or JSON."""
    machine = visible_machine(request, pk)
    kept = MachineCover.objects.computed().filter(machine=machine).select_related("cover").first()
    table = read_table(kept.cover) if kept else None
    if table is None or fmt not in ("csv", "json"):
        raise Http404("There is no table for this machine's circuit, or the format is not csv or json.")
    name = f"cover-{machine.pk}-{kept.on}.{fmt}"
    if fmt == "csv":
        return csv_download(name, CSV_HEADER, (csv_row(row) for row in table.rows))
    return file_response(name, as_json(machine, kept))


@permission_required(("fleet.view_machine", "fleet.compute_circuitcover"), raise_exception=True)
@require_POST
def machine_cover_compute(request, pk):
    """Request the table of one machine."""
    machine = visible_machine(request, pk)
    title, params = f"Gas circuit of machine {machine}", {"machine": machine.pk}
    return redirect(request_job(CIRCUIT_COVER, title=title, params=params, by=request.user, at=timezone.now()))


@permission_required("fleet.view_machine", raise_exception=True)
@require_POST
def machine_cover_first(request, pk):
    """Compute the table that a page was opened without, or say how far its job is; the page asks for this by itself."""
    machine, at = visible_machine(request, pk), timezone.now()
    job = compute_on_view(machine, at=at)
    if not wants_part(request):
        return redirect("fleet:machine_cover", pk)
    if "panel" in request.POST:
        return _panel(request, machine, job, at)
    if job is None:
        return HttpResponse(headers={"HX-Refresh": "true"})
    return render(request, "fleet/_cover_on_view.html", {"machine": machine, **waiting_for(job, at)})


def _panel(request, machine, job, at):
    """Return the section of the machine's own page again."""
    today = machine.site.date_of(at)
    found = circuit_as_measured(machine, today, today=today)
    template, context = gaps_panel(machine, found, feature_groups(machine, today))
    return render(request, template, {**context, **waiting_for(job, at)})


@permission_required(("fleet.view_machine", "fleet.compute_circuitcover"), raise_exception=True)
@require_POST
def machine_cover_pairs(request, pk):
    """Request every pair of causes of one machine."""
    machine = visible_machine(request, pk)
    form = PairsForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(form.errors["at_least"]))
        return redirect("fleet:machine_cover", pk)
    at_least = form.cleaned_data["at_least"]
    title, params = f"Pairs of faults of machine {machine}", {"machine": machine.pk, "at_least": at_least}
    return redirect(request_job(CIRCUIT_PAIRS, title=title, params=params, by=request.user, at=timezone.now()))


@permission_required(("fleet.view_machine", "fleet.compute_circuitcover"), raise_exception=True)
@require_POST
def covers_compute(request):
    """Request the tables of all machines, or those of one site."""
    title, params = "Every gas circuit", {}
    if sent := request.POST.get("site"):
        site = get_object_or_404(Site.objects.visible_to(request.user), pk=sent_number(sent))
        title, params = f"Gas circuits of {site}", {"site": site.pk}
    return redirect(request_job(CIRCUIT_COVER, title=title, params=params, by=request.user, at=timezone.now()))
