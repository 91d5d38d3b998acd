"""The pages of a machine that inspections adds: results, findings, papers."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.machine_page.head import head_today
from fleet.views.machines import visible_machine
from fleet.web.query_values import page_asked
from inspections.models import Finding, Inspection
from inspections.on_machine_page.latest_results import drawn_trends, machine_results

PER_PAGE = 25


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def results(request, pk):
    """Show the latest value of every result, the most pressing first, with trends."""
    machine = visible_machine(request, pk)
    found = machine_results(machine)
    context = {**head_today(machine, "Results"), "results": found, "trends": drawn_trends(found)}
    return render(request, "inspections/machine_results.html", context)


@permission_required("inspections.view_finding", raise_exception=True)
@require_safe
def findings(request, pk):
    """Show every finding of the machine: the open ones first, then the closed ones, a page at a time."""
    machine = visible_machine(request, pk)
    found = Finding.objects.filter(machine=machine).open_first().select_related("closed_by", "opened_by", "token")
    page = page_asked(request, found, PER_PAGE)
    context = {**head_today(machine, "Findings"), "page": page}
    return render(request, "inspections/machine_findings.html", context)


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def papers(request, pk):
    """List what can be printed: the label, the circuit, and the record of every signed inspection."""
    machine = visible_machine(request, pk)
    signed = Inspection.objects.signed().with_result().filter(machine=machine).order_by("-signed_at", "-pk")
    page = page_asked(request, signed.select_related("procedure", "signed_by"), PER_PAGE)
    return render(request, "inspections/machine_papers.html", {**head_today(machine, "Papers"), "page": page})
