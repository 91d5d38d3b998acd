"""The attempt at an inspection and the coding of a finding as runs for tests/test_changes.py: prepare, yield, act."""

from datetime import timedelta

import inspections.actions as actions
from tests.factories import NOON, make_inspection, make_machine

LATER = NOON + timedelta(days=1)


def record_attempt(by, scene):
    planned = make_inspection()
    yield
    actions.record_attempt(planned, kind="in use", by=by, at=LATER)


def code_finding(by, scene):
    finding = actions.report_fault(make_machine(), title="Sticks", severity="other", by=by, at=NOON)
    yield
    actions.code_finding(finding, code="wear", found_how="daily check", by=by, at=LATER)


ATTEMPT_RUNS = {one.__name__: one for one in (record_attempt, code_finding)}
