"""The cover table of a machine's gas circuit: its page, its files, and requests to compute it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.actions import request_job
from fleet.circuit_covers.closing_shown import shown_closing
from fleet.circuit_covers.export import CSV_HEADER, as_json, csv_row
from fleet.circuit_covers.job import CIRCUIT_COVER
from fleet.circuit_covers.pairs import CIRCUIT_PAIRS
from fleet.circuit_covers.reading import ShownRow, counted, read_closing, read_table
from fleet.circuit_covers.standing import standing_of
from fleet.csv_export import csv_download
from fleet.forms.circuit_covers import CoverTableForm, PairsForm
from fleet.machine_circuit import circuit_of
from fleet.models import MachineCover, Site
from fleet.query_values import page_asked
from fleet.views.machines import visible_machine

ROWS = 40
CAUTIONS = (
    "Computed from the circuit as it is recorded, in steady flow. It is no check of a machine before use, and it sees "
    "no fault that nobody described.",
    "For qualified personnel. Alter a machine only by the manufacturer's instructions or with the manufacturer's "
    "agreement, then test it.",
    "Electric shock and fire are not judged from a gas circuit.",
)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_cover(request, pk):
    """Show for each hazard and cause what stops it or alarms, filtered, page by page."""
    machine = visible_machine(request, pk)
    kept = MachineCover.objects.filter(machine=machine).select_related("cover").first()
    table = read_table(kept.cover) if kept and kept.cover else None
    form = CoverTableForm(request.GET)
    rows = form.keep(table.rows) if table else []
    page = page_asked(request, [ShownRow(row) for row in rows], ROWS)
    context = {
        "machine": machine,
        "kept": kept,
        "table": table,
        "form": form,
        "counts": counted(table.rows) if table else [],
        "page": page,
        "closing": shown_closing(read_closing(kept.cover)) if table else None,
        "standing": standing_of(machine, kept, circuit_of(machine)),
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
        raise Http404("No table is kept of this machine's circuit, or it comes as csv and json only.")
    name = f"cover-{machine.pk}-{kept.on}.{fmt}"
    if fmt == "csv":
        return csv_download(name, CSV_HEADER, (csv_row(row) for row in table.rows))
    response = HttpResponse(as_json(machine, kept), content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@permission_required(("fleet.view_machine", "fleet.compute_circuitcover"), raise_exception=True)
@require_POST
def machine_cover_compute(request, pk):
    """Request the table of one machine."""
    machine = visible_machine(request, pk)
    title, params = f"Gas circuit of machine {machine}", {"machine": machine.pk}
    return redirect(request_job(CIRCUIT_COVER, title=title, params=params, by=request.user, at=timezone.now()))


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
    if request.POST.get("site", "").isdecimal():
        site = get_object_or_404(Site.objects.visible_to(request.user), pk=request.POST["site"])
        title, params = f"Gas circuits of {site}", {"site": site.pk}
    return redirect(request_job(CIRCUIT_COVER, title=title, params=params, by=request.user, at=timezone.now()))
