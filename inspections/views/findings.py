"""Findings: the list, one finding, reporting a fault, closing, planning a retest."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.lists import TableList
from fleet.views.machines import visible_machine
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import posted
from fleet.web.query_values import choice_asked
from inspections.actions import close_finding, code_finding, plan_retest, report_fault
from inspections.deciding.grounds.of_finding import finding_grounds
from inspections.deciding.retests import passing_retest_of
from inspections.deciding.second_person import why_second_for_closing
from inspections.errors import GroundsChanged, Refused
from inspections.forms.findings import (
    CloseForm,
    CodingForm,
    EssentialCloseForm,
    FaultForm,
    FindingFilter,
    RetestForm,
)
from inspections.models import Finding, FoundHow, Inspection
from inspections.planning.failure_codes import CODES
from inspections.proposals import Closing
from inspections.tables.findings import ClosedFindingTable, FindingTable
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

CODING = ("code", "found_how", "cause")
TABS = {
    "open": ("Open", lambda rows: rows.open(), "No finding is open."),
    "withdrawal": (
        "Awaiting withdrawal",
        lambda rows: rows.awaiting_withdrawal(),
        "No machine in service has an open essential finding.",
    ),
    "closed": ("Closed", lambda rows: rows.closed(), "No finding has been closed yet."),
}


class FindingList(TableList):
    permission_required = "inspections.view_finding"
    filterset_class = FindingFilter
    template_name = "inspections/findings.html"
    export_headings = {"Location": "Place", "Status": "MachineStatus"}  # programs read these names

    def get_rows(self):
        return Finding.objects.visible_to(self.request.user)

    def get_queryset(self):
        self.kept = super().get_queryset()
        self.chosen = choice_asked(self.request, "view", TABS, "open")
        return TABS[self.chosen][1](self.kept)

    def complete(self, rows):
        return rows.with_place()

    def get_table_class(self):
        return ClosedFindingTable if self.chosen == "closed" else FindingTable

    def get_table_kwargs(self):
        return {"now": self.now, "empty_text": TABS[self.chosen][2]}

    @property
    def export_name(self):
        return f"findings-{self.chosen}"

    def get_context_data(self, **kwargs):
        counts = self._counts()
        self.total = counts[self.chosen]
        tabs = [(name, label, counts[name], name == self.chosen) for name, (label, _, _) in TABS.items()]
        return super().get_context_data(tabs=tabs, chosen=self.chosen, uncoded=counts["not_coded"], **kwargs)

    def _counts(self):
        """Count under each tab, and what is not coded; a search reads the text of each finding once for most of it."""
        if self.filterset.asked["q"]:
            return self.kept.count_open_and_closed() | {"withdrawal": self.kept.awaiting_withdrawal().count()}
        counts = {name: narrow(self.kept).count() for name, (_, narrow, _) in TABS.items()}
        return counts | {"not_coded": self.kept.closed().not_coded().count() if self.chosen == "closed" else 0}


@permission_required("inspections.view_finding", raise_exception=True)
@require_safe
def finding(request, pk):
    found = _finding(request, pk)
    context = {
        "finding": found,
        "result": found.result,
        "retests": found.retested_by.select_related("procedure", "technician").order_by("-planned_at")[:20],
        "withdrawal": found.machine.status_change_in_force(),
        "proposals": found.proposals.waiting(),
        "reports": found.fault_reports.all()[:20],
    }
    return render(request, "inspections/finding.html", context)


@permission_required("inspections.close_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def finding_close(request, pk):
    """An essential finding asks for the password, and may ask for a second person."""
    found = _finding(request, pk)
    is_decision = found.is_open and found.is_essential
    kept = {"initial": _coding_of(found)}
    form = (
        EssentialCloseForm(posted(request), request=request, **kept)
        if is_decision
        else CloseForm(posted(request), **kept)
    )
    about = f"close {pk}"
    if request.method == "POST" and form.is_valid():
        done = _close(request, found, form, is_decision, shown_grounds(request, about))
        if done:
            return done
        found = _finding(request, pk)
    evidence = passing_retest_of(found) if found.is_open else None
    context = {
        "form": form,
        "finding": found,
        "codes": CODES.values(),
        "evidence": evidence,
        "second_person": why_second_for_closing(found, evidence) if found.is_open else "",
        **grounds_context(request, about, finding_grounds(found, evidence)),
    }
    return render(request, "inspections/finding_close.html", context, status=status_of(context, form))


def _close(request, found, form, is_decision, shown):
    """Close it, or propose to. Return the way on, None if it was refused."""
    data = form.cleaned_data
    if is_decision:
        coding = {name: data[name] for name in CODING}
        act = Closing(found, work_hours=data["work_hours"], **coding)
        proposal = decide_or_say(request, form, act, reason=data["note"], shown=shown)
        if proposal is REFUSED:
            return None
    else:
        proposal = None
        try:
            close_finding(found, by=request.user, at=timezone.now(), shown=shown, **data)
        except GroundsChanged:
            return None
        except Refused as error:
            form.add_error(None, str(error))
            return None
    if not proposal:
        messages.success(request, f"“{found}” is closed.")
    return redirect(proposal or found)


@permission_required("inspections.close_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def finding_code(request, pk):
    """Say why it was wrong, of an open finding or of one that was closed without a code."""
    found = _finding(request, pk)
    form = CodingForm(request.POST or None, initial=_coding_of(found))
    if request.method == "POST" and form.is_valid():
        try:
            code_finding(found, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"“{found}” is coded as {found.failure_code.title.lower()}.")
            return redirect(found)
    context = {"form": form, "finding": found, "codes": CODES.values()}
    return render(request, "inspections/finding_code.html", context)


def _coding_of(found):
    """The coding that a form begins with: what is stored; for a failed result, that an inspection found it."""
    by_inspection = found.step_id or found.result_id
    return {
        "code": found.code,
        "found_how": found.found_how or (FoundHow.INSPECTION if by_inspection else ""),
        "cause": found.cause,
    }


@permission_required("inspections.add_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def fault_report(request, pk):
    machine = visible_machine(request, pk)
    form = FaultForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            found = report_fault(machine, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The fault on machine {machine} is recorded.")
            return redirect(found)
    return render(request, "inspections/fault_report.html", {"form": form, "machine": machine})


@permission_required("inspections.close_finding", raise_exception=True)
@require_http_methods(["GET", "POST"])
def retest_plan(request, pk):
    """Whoever may close findings may ask for the retest that lets them be closed."""
    machine = visible_machine(request, pk)
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
    finding = get_object_or_404(rows, pk=pk)
    show_as_site(finding.machine.site)
    return finding
