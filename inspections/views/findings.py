"""Findings: the list, one finding, reporting a fault, closing, planning a retest."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models import Machine
from fleet.query_values import choice_asked, show_page, sort_all
from inspections.actions import close_finding, plan_retest, report_fault
from inspections.errors import Refused
from inspections.forms.findings import CloseForm, FaultForm, FindingFilterForm, RetestForm
from inspections.models import Finding, Inspection
from inspections.tables.export import csv_response
from inspections.tables.findings import ClosedFindingTable, FindingTable

PER_PAGE = 25
TABS = {
    "open": ("Open", lambda rows: rows.open(), "No finding is open."),
    "withdrawal": (
        "Awaiting withdrawal",
        lambda rows: rows.awaiting_withdrawal(),
        "No machine in service has an essential finding open.",
    ),
    "closed": ("Closed", lambda rows: rows.closed(), "No finding was closed yet."),
}


@permission_required("inspections.view_finding", raise_exception=True)
@require_safe
def findings(request):
    now = timezone.now()
    form = FindingFilterForm(request.GET, person=request.user)
    rows = form.narrow(Finding.objects.visible_to(request.user), now)
    chosen = choice_asked(request, "view", TABS, "open")
    _, narrowed, empty = TABS[chosen]
    kind = ClosedFindingTable if chosen == "closed" else FindingTable
    table = kind(narrowed(rows).with_place(), now=now, empty_text=empty)
    if choice_asked(request, "export", ["csv"]):
        sort_all(request, table)
        return csv_response(table, f"findings-{chosen}")
    show_page(request, table, PER_PAGE)
    tabs = [(name, label, narrow(rows).count(), name == chosen) for name, (label, narrow, _) in TABS.items()]
    context = {"form": form, "table": table, "tabs": tabs, "chosen": chosen}
    return render(request, "inspections/findings.html", context)


@permission_required("inspections.view_finding", raise_exception=True)
@require_safe
def finding(request, pk):
    found = _finding(request, pk)
    context = {
        "finding": found,
        "outcome": found.outcome,
        "retests": found.retested_by.select_related("procedure", "technician").order_by("-planned_at")[:20],
        "withdrawal": found.machine.duty_changes.first(),
    }
    return render(request, "inspections/finding.html", context)


@permission_required("inspections.close_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def finding_close(request, pk):
    found = _finding(request, pk)
    form = CloseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            close_finding(found, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"“{found}” is closed.")
            return redirect(found)
    return render(request, "inspections/finding_close.html", {"form": form, "finding": found})


@permission_required("inspections.add_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def fault_report(request, pk):
    machine = _machine(request, pk)
    form = FaultForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            found = report_fault(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The fault of machine {machine} is recorded.")
            return redirect(found)
    return render(request, "inspections/fault_report.html", {"form": form, "machine": machine})


@permission_required("inspections.close_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def retest_plan(request, pk):
    """Whoever may close findings may ask for the retest that lets them be closed."""
    machine = _machine(request, pk)
    initial = {"findings": Finding.objects.open().filter(machine=machine), "due_on": timezone.localdate()}
    form = RetestForm(request.POST or None, machine=machine, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            retest = plan_retest(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"A retest of machine {machine} is planned.")
            return redirect(retest)
    planned = Inspection.objects.visible_to(request.user).retesting().filter(machine=machine)
    context = {
        "form": form,
        "machine": machine,
        "planned": planned.select_related("procedure"),
        "has_findings": form.fields["findings"].queryset.exists(),
    }
    return render(request, "inspections/retest_plan.html", context)


def _finding(request, pk):
    rows = Finding.objects.visible_to(request.user).with_place().select_related("opened_by", "closed_by", "token")
    return get_object_or_404(rows, pk=pk)


def _machine(request, pk):
    return get_object_or_404(Machine.objects.visible_to(request.user).with_place(), pk=pk)
