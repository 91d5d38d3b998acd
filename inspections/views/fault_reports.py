"""Fault reports from labels: the list, and the triage of one."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.lists import TableList
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked
from inspections.actions import add_report_to_finding, dismiss_report, open_finding_of_report
from inspections.errors import Refused
from inspections.forms.fault_reports import ADD, DISMISS, FaultReportFilter, TriageForm
from inspections.models import FaultPhotograph, FaultReport
from inspections.tables.fault_reports import FaultReportTable, SettledReportTable

TABS = {
    "waiting": ("Waiting for triage", lambda rows: rows.waiting(), "No fault report waits for triage."),
    "settled": ("Settled", lambda rows: rows.settled(), "No fault report has been settled yet."),
}
TRIAGE = "inspections.triage_faultreport"


class FaultReportList(TableList):
    permission_required = "inspections.view_finding"
    filterset_class = FaultReportFilter
    template_name = "inspections/fault_reports.html"

    def get_rows(self):
        return FaultReport.objects.visible_to(self.request.user)

    def get_queryset(self):
        self.kept = super().get_queryset()
        self.chosen = choice_asked(self.request, "view", TABS, "waiting")
        return TABS[self.chosen][1](self.kept)

    def complete(self, rows):
        return rows.with_place()

    def parts(self, rows):
        """Return what is settled by state: an index has each state in the order of reports, but not both of them."""
        return rows.by_settled_state() if self.chosen == "settled" and not self.filterset.narrows else [rows]

    def get_table_class(self):
        return SettledReportTable if self.chosen == "settled" else FaultReportTable

    def get_table_kwargs(self):
        return {"now": self.now, "empty_text": TABS[self.chosen][2]}

    @property
    def export_name(self):
        return f"fault-reports-{self.chosen}"

    def get_context_data(self, **kwargs):
        counts = {name: narrow(self.kept).count() for name, (_, narrow, _) in TABS.items()}
        self.total = counts[self.chosen]
        tabs = [(name, label, counts[name], name == self.chosen) for name, (label, _, _) in TABS.items()]
        return super().get_context_data(tabs=tabs, chosen=self.chosen, **kwargs)


@permission_required("inspections.view_finding", raise_exception=True)
@require_http_methods(FORM_METHODS)
def fault_report_page(request, pk):
    """One report; whoever may triage decides here what becomes of it."""
    report = get_object_or_404(FaultReport.objects.visible_to(request.user).with_place(), pk=pk)
    show_as_site(report.machine.site)
    may_triage = request.user.has_perm(TRIAGE)
    if request.method == "POST" and not may_triage:
        raise PermissionDenied
    form = TriageForm(posted(request), report=report) if may_triage and report.is_waiting else None
    if request.method == "POST":
        done = _triaged(request, report, form)
        if done:
            return done
    photograph = FaultPhotograph.objects.filter(report=report).only("width", "height").first()
    context = {"report": report, "machine": report.machine, "form": form, "photograph": photograph}
    return render(request, "inspections/fault_report_page.html", context, status=422 if form and form.errors else 200)


def _triaged(request, report, form):
    """Do what was chosen. Return the way on, None if the form must be shown again."""
    if form is None:
        messages.error(request, f"{report.number} is already settled.")
        return redirect(report)
    if not form.is_valid():
        return None
    try:
        _settle(report, form.cleaned_data, by=request.user, at=timezone.now())
    except Refused as error:
        form.add_error(None, str(error))
        return None
    messages.success(request, f"{report.number} is settled: {report.get_state_display().lower()}.")
    return redirect(report.finding or report)


def _settle(report, data, *, by, at):
    if data["what"] == ADD:
        add_report_to_finding(report, data["finding"], by=by, at=at)
    elif data["what"] == DISMISS:
        dismiss_report(report, reason=data["reason"], by=by, at=at)
    else:
        open_finding_of_report(
            report, title=data["title"], severity=data["severity"], others=data.get("others", ()), by=by, at=at
        )
