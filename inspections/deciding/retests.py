"""Whether a signed inspection repeated what a finding is about, and passed."""

from inspections.models import Inspection, Outcome

PASS = "pass"
LOOKED_AT = 40  # the newest inspections signed since a finding was opened


def not_retested(finding, retest, outcomes):
    """Say why `retest`, with its `outcomes`, does not clear the finding; empty when it does."""
    if finding.outcome is None:
        named = retest.retests.filter(pk=finding.pk).exists()
        return "" if named else f"{retest} did not retest “{finding}”."
    failed = (finding.outcome.step.what, finding.outcome.key)
    same = [outcome for outcome in outcomes if (outcome.step.what, outcome.key) == failed]
    if any(outcome.decision == PASS for outcome in same):
        return ""
    decision = same[0].decision if same else "not tested"
    return f"“{finding}” needs a pass; {retest} says: {decision or 'reported only'}."


def passing_retest_of(finding):
    """The newest signed inspection that repeated what `finding` is about, if it passed and was signed since; else None.

    For a failed outcome: the newest one that judged the same test, subject and result, which must be a plain pass. For
    a fault report: the newest one that names it as retested, which must have judged something and failed nothing.
    """
    signed = Inspection.objects.signed().filter(machine=finding.machine_id, signed_at__gt=finding.opened_at)
    if finding.outcome is None:
        signed = signed.filter(retests=finding)
    newest = list(signed.order_by("-signed_at")[:LOOKED_AT])
    outcomes = {}
    for outcome in Outcome.objects.filter(step__inspection__in=newest).select_related("step"):
        outcomes.setdefault(outcome.step.inspection_id, []).append(outcome)
    for retest in newest:
        judged = [outcome for outcome in outcomes.get(retest.pk, []) if concerns(outcome, finding) and outcome.decision]
        if judged:
            return retest if _all_pass(finding, judged) else None
    return None


def concerns(outcome, finding):
    """Whether an outcome is of the same test, subject and result as the one that failed; any, for a fault report."""
    failed = finding.outcome
    return failed is None or (outcome.step.what, outcome.key) == (failed.step.what, failed.key)


def _all_pass(finding, judged):
    if finding.outcome is None:
        return not any(outcome.is_failed for outcome in judged)
    return all(outcome.decision == PASS for outcome in judged)
