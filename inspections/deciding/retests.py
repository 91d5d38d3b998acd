"""Whether a signed inspection repeated what a finding is about, and passed."""

from inspections.models import Inspection, Result

PASS = "pass"
LOOKED_AT = 40  # the newest inspections signed since a finding was opened


def not_retested(finding, retest, results):
    """Say why `retest`, with its `results`, does not clear the finding; empty when it does."""
    if finding.result is None:
        named = retest.retests.filter(pk=finding.pk).exists()
        return "" if named else f"{retest} did not retest “{finding}”."
    failed = (finding.result.step.what, finding.result.key)
    same = [result for result in results if (result.step.what, result.key) == failed]
    if any(result.decision == PASS for result in same):
        return ""
    decision = same[0].decision if same else "not tested"
    return f"“{finding}” needs a pass; {retest} says: {decision or 'reported only'}."


def passing_retest_of(finding):
    """The newest signed inspection that repeated what `finding` is about, if it passed and was signed since; else None.

    For a failed result: the newest one that judged the same test, subject and result, which must be a plain pass. For
    a fault report: the newest one that names it as retested, which must have judged something and failed nothing.
    """
    signed = Inspection.objects.signed().filter(machine=finding.machine_id, signed_at__gt=finding.opened_at)
    if finding.result is None:
        signed = signed.filter(retests=finding)
    newest = list(signed.order_by("-signed_at")[:LOOKED_AT])
    results = {}
    for result in Result.objects.filter(step__inspection__in=newest).select_related("step"):
        results.setdefault(result.step.inspection_id, []).append(result)
    for retest in newest:
        about = [result for result in results.get(retest.pk, []) if concerns(result, finding)]
        judged = [result for result in about if result.decision]
        if judged:
            return retest if _all_pass(finding, judged) else None
    return None


def concerns(result, finding):
    """Whether a result is of the same test, subject and key as the one that failed; any, for a fault report."""
    failed = finding.result
    return failed is None or (result.step.what, result.key) == (failed.step.what, failed.key)


def _all_pass(finding, judged):
    if finding.result is None:
        return not any(result.is_failed or result.is_open for result in judged)
    return all(result.decision == PASS for result in judged)
