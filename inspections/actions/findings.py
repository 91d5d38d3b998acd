"""Open, retest and close findings."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.models import Machine, MachineStatus
from inspections.actions.planning import plan_inspection
from inspections.at_bench.conditional_results import conditional_rule
from inspections.concurrent_edits import NOT_TOLD
from inspections.deciding.grounds import refuse_if_changed
from inspections.deciding.grounds.of_finding import finding_grounds
from inspections.deciding.retests import findings_settled_by, passing_retest_of
from inspections.deciding.second_person import refuse_alone, why_second_for_closing
from inspections.errors import Refused
from inspections.models import Finding, FoundHow, InspectionStep, Procedure, Severity
from inspections.planning.failure_codes import CODES

RETEST_PROCEDURE = "return-to-service"
SETTLED = "repeated this and it passed, or the safety feature is recorded as not fitted."


def open_findings_of(inspection, results, *, by, at):
    """Open a finding for every result that failed or was not proved. Called by the signature.

    A failed essential step makes it essential. What was not tested or not decided, and a conditional pass unless the
    step leaves that at a remark, is to be dealt with; of an essential step `open_findings_of_untested` opens one for
    all that it left open.
    """
    _wait_for(inspection.machine)
    findings = [
        Finding(
            machine=inspection.machine,
            origin=Finding.Origin.RESULT if result.is_failed else Finding.Origin.NOT_PROVED,
            result=result,
            severity=Severity.ESSENTIAL if result.step.is_essential and result.is_failed else Severity.OTHER,
            description=result.content.get("why", ""),
            title=f"{result.step}: {result.label.lower()}, {result.decision}"[:200],
            opened_by=by,
            opened_at=at,
        )
        for result in _once(results)
        if _opens_finding(result)
    ]
    created = Finding.objects.bulk_create(findings)
    record_created(created, by=by, at=at)
    return created


def _once(results):
    """Of several sets of readings of a step: each result of the last one, in its place the first that failed."""
    failed = {}
    for result in sorted(results, key=lambda one: one.step.set_number):
        if result.is_failed:
            failed.setdefault((result.step.first_set_id, result.key), result)
    return [
        *failed.values(),
        *(one for one in results if one.step.is_last and (one.step.first_set_id, one.key) not in failed),
    ]


def _opens_finding(result):
    if result.is_open:
        return not result.step.is_essential
    return result.is_failed or (result.decision == "conditional pass" and conditional_rule(result.step) == "finding")


def open_findings_of_untested(inspection, *, by, at):
    """Open a finding for every essential step that proved nothing, unless one about the same step is open already.

    Called by the signature, after the results are stored.
    """
    _wait_for(inspection.machine)
    known = {one.step.what for one in Finding.objects.open().of_untested().filter(machine=inspection.machine)
             .select_related("step")}  # fmt: skip
    findings = [
        Finding(
            machine=inspection.machine,
            origin=Finding.Origin.NOT_TESTED,
            step=step,
            severity=Severity.OTHER,
            title=f"{step}: essential step not tested"[:200],
            description=step.not_tested_reason or _left_open(step),
            opened_by=by,
            opened_at=at,
        )
        for step in inspection.steps.essential_untested().prefetch_related("results")
        if step.what not in known
    ]
    created = Finding.objects.bulk_create(findings)
    record_created(created, by=by, at=at)
    return created


def _left_open(step):
    """What a step that was worked on does not prove, a line for each result."""
    open_results = [result for result in step.results.all() if result.is_open]
    lines = [f"{one.label}: {one.decision}. {one.content.get('why', '')}".strip() for one in open_results]
    return "\n".join(lines) or "Nothing was judged."


def close_settled_findings(inspection, results, *, by, at):
    """Close what the signed inspection was to repeat and passed, essential findings excepted."""
    settled = findings_settled_by(inspection, results)
    repaired = [finding for finding in settled if finding.result and finding.result.step.inspection_id == inspection.pk]
    with recording(*settled, by=by, at=at):
        rows = Finding.objects.open().filter(pk__in=[one.pk for one in settled if one not in repaired])
        rows.update(closed_at=at, closed_by=by, closing_note=f"{inspection} {SETTLED}")
        for finding in repaired:
            note = f"{inspection}: {_work_on(finding.result.step)} It passed as left."
            Finding.objects.open().filter(pk=finding.pk).update(closed_at=at, closed_by=by, closing_note=note)
    return settled


def _work_on(step):
    """What was done between the sets of readings of a step, as it was entered."""
    sets = InspectionStep.objects.filter(as_left_of=step.first_set_id, set_number__gt=step.set_number)
    done = sets.order_by("set_number").values_list("work_done", flat=True)
    return " ".join(f"{words.rstrip('.')}." for words in dict.fromkeys(done))


def _wait_for(machine):
    """Lock the machine, so that a finding and a decision about the machine come one after the other.

    All locks of rows that others refer to leave their keys free (no_key): a transaction checks its references when it
    commits, after it has locked the journal, and would otherwise wait for one that waits for the journal.
    """
    Machine.objects.select_for_update(no_key=True).only("pk").get(pk=machine.pk)


@transaction.atomic
def report_fault(
    machine, *, title, severity, by, at, description="", token=None, origin=Finding.Origin.FAULT,
    code="", cause="", found_how="",
):  # fmt: skip
    """Open a finding from what `by`, or a program with their `token`, saw; an essential one proposes withdrawal.

    code, cause, found_how  why it was wrong and what brought it to light, where that is known already
    """
    coding = _coding(code, cause, found_how)
    if not title.strip():
        raise Refused(f"State in a few words what is wrong with machine {machine}.")
    _wait_for(machine)
    finding = Finding.objects.create(
        machine=machine,
        origin=origin,
        severity=severity,
        title=title.strip(),
        description=description.strip(),
        opened_by=by,
        token=token,
        opened_at=at,
        **coding,
    )
    record_created([finding], by=by, at=at, token=token)
    return finding


@transaction.atomic
def plan_retest(machine, findings, *, due_on, by, at):
    """Plan a return-to-service inspection that also repeats what failed.

    Raise Refused if none of the findings is open, StageRefused if the machine is retired.
    """
    findings = [finding for finding in findings if finding.is_open and finding.machine_id == machine.pk]
    if not findings:
        raise Refused(f"Machine {machine} has no open finding to retest.")
    procedure = Procedure.objects.filter(code=RETEST_PROCEDURE).first()
    if procedure is None:
        raise Refused(f"The procedure “{RETEST_PROCEDURE}” is not loaded. Run: manage.py load_procedures")
    inspection = plan_inspection(machine, procedure, due_on=due_on, by=by, at=at)
    with recording(inspection, by=by, at=at):
        inspection.retests.set(findings)
    return inspection


@transaction.atomic
def close_finding(
    finding, *, note, by, at, work_hours=None, code="", cause="", found_how="", proposed_by=None, shown=NOT_TOLD
):
    """Close a finding with what was done. An essential finding on a withdrawn machine closes only with its release.

    An essential one on a machine in service rests on a passing retest signed since it was opened, or on the judgement
    of a second person: without either SecondPersonNeeded is raised. `shown` are the grounds that the page showed.
    Without a code the coding that the finding has stays as it is.
    """
    coding = _coding(code, cause, found_how)
    if not note.strip():
        raise Refused(f"State what was done about “{finding}” before closing it.")
    # Held, so that nobody withdraws the machine on this finding while it is being closed.
    machine = hold_machine_of(finding)
    evidence = passing_retest_of(finding) if finding.is_open else None
    refuse_if_changed(shown, finding_grounds(finding, evidence))
    if finding.is_essential and machine.status == MachineStatus.WITHDRAWN:
        raise Refused(f"“{finding}” withdrew machine {machine}. It closes when a passing retest releases the machine.")
    if finding.is_open:
        refuse_alone(why_second_for_closing(finding, evidence), by=by, proposed_by=proposed_by)
    with recording(finding, by=by, at=at):
        done = {"closing_note": note.strip(), "work_hours": work_hours, **(coding if code else {})}
        if not Finding.objects.filter(pk=finding.pk).open().update(closed_at=at, closed_by=by, **done):
            raise Refused(f"“{finding}” is already closed.")
    finding.refresh_from_db()


def hold_machine_of(finding):
    """Lock the machine until the transaction ends, and reload the finding."""
    machine = Machine.objects.select_for_update(no_key=True).get(pk=finding.machine_id)
    finding.refresh_from_db()
    return machine


@transaction.atomic
def code_finding(finding, *, code, found_how, by, at, cause=""):
    """Say why it was wrong and what brought it to light, of an open finding or a closed one.

    A later coding replaces it. Raise Refused for an unknown code or way, and without either.
    """
    coding = _coding(code, cause, found_how)
    if not code:
        raise Refused(f"Choose the code that says why “{finding}” was wrong.")
    with recording(finding, by=by, at=at):
        Finding.objects.filter(pk=finding.pk).update(**coding)
    finding.refresh_from_db()


def _coding(code, cause, found_how):
    if code and code not in CODES:
        raise Refused(f"“{code[:40]}” is no code of findings. Accepted: {', '.join(CODES)}.")
    if found_how and found_how not in FoundHow.values:
        raise Refused(f"“{found_how[:40]}” is no way of finding. Accepted: {', '.join(FoundHow.values)}.")
    if code and not found_how:
        raise Refused("State with the code what brought the finding to light, such as an inspection.")
    return {"code": code, "cause": cause.strip(), "found_how": found_how}
