"""Triage: what becomes of a fault report that arrived without a login."""

from django.db import transaction

from fleet.changes import recording
from inspections.actions.findings import report_fault
from inspections.errors import Refused
from inspections.models import FaultReport, Finding


@transaction.atomic
def open_finding_of_report(report, *, title, severity, by, at, others=()):
    """Open a finding from a report. `others` are further reports of the same fault; they become part of it.

    The severity is the judgement of `by`; an essential finding asks for a decision about withdrawal, as any does.
    """
    finding = report_fault(
        report.machine, title=title, severity=severity, description=_told([report, *others]), by=by, at=at
    )
    for one in (report, *others):
        _settle(one, by=by, at=at, state=FaultReport.State.FINDING, finding=finding)
    return finding


@transaction.atomic
def add_report_to_finding(report, finding, *, by, at):
    """Say that a report is about a finding that is open already."""
    if finding.machine_id != report.machine_id:
        raise Refused(f"“{finding}” is a finding of another machine. Choose one of machine {report.machine}.")
    if not Finding.objects.open().filter(pk=finding.pk).exists():
        raise Refused(f"“{finding}” is already closed. Open a new finding from the report.")
    _settle(report, by=by, at=at, state=FaultReport.State.FINDING, finding=finding)


@transaction.atomic
def dismiss_report(report, *, reason, by, at):
    """Dismiss a report with the reason, which is kept."""
    if not reason.strip():
        raise Refused(f"State why {report} is dismissed.")
    _settle(report, by=by, at=at, state=FaultReport.State.DISMISSED, reason=reason.strip())


def _settle(report, *, by, at, **fields):
    with recording(report, by=by, at=at):
        rows = FaultReport.objects.waiting().filter(pk=report.pk)
        if not rows.update(settled_by=by, settled_at=at, **fields):
            settled = FaultReport.objects.select_related("settled_by").get(pk=report.pk)
            raise Refused(
                f"{settled.number} is already settled by {settled.settled_by}: {settled.get_state_display().lower()}."
            )
    report.refresh_from_db()


def _told(reports):
    """The reports in the words of those who made them."""
    return "\n\n".join(
        f"{one.number}, reported by {one.who} on {one.machine.site.date_of(one.reported_at).isoformat()} without a "
        f"login. Machine at: {one.where}\n{one.what}"
        for one in reports
    )
