"""How each action of labels is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from inspections.actions import (
    add_report_to_finding,
    dismiss_report,
    issue_label,
    open_finding_of_report,
    replace_label,
    report_fault,
    report_from_label,
)
from tests.factories import NOON, make_machine

AT = NOON + timedelta(days=1)


def make_label(by):
    return issue_label(make_machine(), by=by, at=NOON)


def make_report(by):
    return _report(make_label(by), by)


def _report(label, by):
    return report_from_label(label, what="Leaks", where="Here", who="Ana", key="k", at=AT)


def _add(report, by):
    finding = report_fault(report.machine, title="Leaks", severity="other", by=by, at=AT)
    add_report_to_finding(report, finding, by=by, at=AT)


LABEL_RUNS = {
    "issue_label": (lambda by: make_machine(), lambda machine, by: issue_label(machine, by=by, at=AT)),
    "replace_label": (make_label, lambda label, by: replace_label(label.machine, reason="Lost", by=by, at=AT)),
    "report_from_label": (make_label, _report),
    "open_finding_of_report": (
        make_report,
        lambda report, by: open_finding_of_report(report, title="Leaks", severity="other", by=by, at=AT),
    ),
    "add_report_to_finding": (make_report, _add),
    "dismiss_report": (make_report, lambda report, by: dismiss_report(report, reason="Known", by=by, at=AT)),
}
