"""What an altered machine needs before it is used again: a finding that its retest settles, and the retest."""

from django.db import transaction

from inspections.actions.findings import RETEST_PROCEDURE, plan_retest, report_fault
from inspections.models import Finding, Procedure, Severity

ASKS = (
    "The machine was altered. It may be used again after a retest that repeats what the altered components serve, and "
    "after its release."
)


@transaction.atomic
def ask_for_retest_of_alteration(machine, words, *, by, at):
    """Open an essential finding on an altered machine, and plan the retest if its procedure is loaded."""
    finding = report_fault(
        machine,
        title=f"Altered, to be retested: {words}"[:200],
        description=ASKS,
        severity=Severity.ESSENTIAL,
        origin=Finding.Origin.ALTERED,
        by=by,
        at=at,
    )
    if Procedure.objects.filter(code=RETEST_PROCEDURE).exists():
        plan_retest(machine, [finding], due_on=machine.site.date_of(at), by=by, at=at)
    return finding
