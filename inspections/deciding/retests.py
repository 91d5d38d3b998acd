"""Whether a signed inspection repeated what a finding is about, and passed."""

from django.db.models import Q

from fleet.models import State
from inspections.at_bench.repeated_steps import rows_after_work
from inspections.at_bench.step_content import features_of
from inspections.at_bench.step_rows import machine_on_day
from inspections.bench.decision_words import is_settled
from inspections.models import Finding, Inspection, Result
from inspections.models.querysets.sets_of_readings import that_decides

PASS = "pass"
LOOKED_AT = 40  # the newest inspections signed since a finding was opened


def not_retested(finding, retest, results):
    """Say why `retest`, with its `results`, does not clear the finding; empty when it does."""
    if finding.step_id:
        return _not_tested_since(finding, retest, results)
    if finding.result is None:
        named = retest.retests.filter(pk=finding.pk).exists()
        return "" if named else f"{retest} did not retest “{finding}”."
    failed = (finding.result.step.what, finding.result.key)
    same = [result for result in results if (result.step.what, result.key) == failed]
    if any(result.decision == PASS for result in same):
        return ""
    decision = same[0].decision if same else "not tested"
    return f"“{finding}” needs a pass; {retest} says: {decision or 'reported only'}."


def _not_tested_since(finding, retest, results):
    """Say why `retest` does not make up for a step that was not tested: if it still applies, all of it must pass."""
    same = [result for result in results if result.step.what == finding.step.what]
    if is_settled(result.decision for result in same) and _all_pass(same):
        return ""
    if _is_not_fitted(finding.step, retest):
        return ""
    words = "; ".join(f"{one.label.lower()}: {one.decision}" for one in same if one.decision) or "not tested"
    return f"“{finding}” needs a pass; {retest} says: {words}."


def _is_not_fitted(step, retest):
    """Whether every safety feature that the step tests is recorded as not fitted on the day of the retest."""
    features = features_of(step.content)
    if not features or not retest.signed_at:
        return False
    states = retest.machine.feature_states.on(retest.machine.site.date_of(retest.signed_at))
    return set(features) <= {state.feature for state in states if state.state == State.NOT_FITTED}


def untested_after_work(findings, retest):
    """Map each step that the repaired or replaced components serve, and that `retest` left untested, to why it counts.

    The steps are by `InspectionStep.what`.

    findings  what the work was about: components of the steps that failed, and those changed since the first of them
    """
    on = retest.machine.site.date_of(retest.signed_at)
    called_for = rows_after_work(retest, findings, machine_on_day(retest.machine, on), on=on) if findings else []
    tested = {step.what for step in retest.steps.settled()} if called_for else set()
    lacking = {row.what: row for row in called_for if row.what not in tested}
    return {what: f"{row}: {row.content['repeated_because']}" for what, row in lacking.items()}


def findings_settled_by(inspection, results):
    """Return the open findings, not essential ones, that a signature settles with its `results`.

    Those are the ones that the inspection was planned to retest, the essential steps left untested earlier, and its own
    that failed as found and pass as left. An essential finding is closed by a person, or by the release.
    """
    repaired = Q(pk__in=Finding.objects.passed_as_left().filter(result__step__inspection=inspection))
    concerned = Q(origin=Finding.Origin.NOT_TESTED) | Q(retested_by=inspection) | repaired
    findings = Finding.objects.open().filter(concerned, machine=inspection.machine_id).exclude(severity="essential")
    found = findings.select_related("result__step", "step").order_by("pk").distinct()
    stands = set(Result.objects.that_decide(inspection).values_list("pk", flat=True))
    results = [result for result in results if result.pk in stands]
    if any(result.is_failed for result in results) or inspection.is_incomplete:
        found = [finding for finding in found if finding.repeated_step]  # a fault report rests on the whole inspection
    settled = [finding for finding in found if not not_retested(finding, inspection, results)]
    return [finding for finding in settled if not untested_after_work([finding], inspection)]


def passing_retest_of(finding):
    """The newest signed inspection that repeated what `finding` is about, if it passed and was signed since; else None.

    For a failed result: the newest one that judged the same test, subject and result, which must be a plain pass. For
    an essential step that was not tested: the newest one that judged the step, all of whose results must pass. For
    a fault report: the newest one that names it as retested, which must have judged something and failed nothing.

    Where no later one did, it is the inspection of the finding itself, if that passed as left.
    """
    signed = Inspection.objects.signed().filter(machine=finding.machine_id, signed_at__gt=finding.opened_at)
    if finding.repeated_step is None:
        signed = signed.filter(retests=finding)
    newest = list(signed.order_by("-signed_at")[:LOOKED_AT])
    results = {}
    for result in Result.objects.filter(that_decides(), step__inspection__in=newest).select_related("step"):
        results.setdefault(result.step.inspection_id, []).append(result)
    for retest in newest:
        about = [result for result in results.get(retest.pk, []) if concerns(result, finding)]
        judged = [result for result in about if result.decision]
        if judged:
            return retest if _clears(finding, judged) and not untested_after_work([finding], retest) else None
    return _repaired_meanwhile(finding)


def _repaired_meanwhile(finding):
    """The inspection that found the failure, if it passes as left and all that the work calls for was tested."""
    if not (finding.result and finding.passes_as_left):
        return None
    inspection = finding.result.step.inspection
    return None if untested_after_work([finding], inspection) else inspection


def concerns(result, finding):
    """Whether a result is of the same test, subject and key as the one that failed; any, for a fault report."""
    failed = finding.result
    if finding.step_id:
        return result.step.what == finding.step.what
    return failed is None or (result.step.what, result.key) == (failed.step.what, failed.key)


def _clears(finding, judged):
    if finding.repeated_step is None:
        return not any(result.is_failed or result.is_open for result in judged)
    return _all_pass(judged)


def _all_pass(results):
    return all(result.decision == PASS for result in results if result.decision)
