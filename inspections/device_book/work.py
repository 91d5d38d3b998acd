"""What was done on a machine: inspections with their decisions, what did not pass, amendments, attempts, findings."""

from django.db.models import F

from fleet.models import EarlierInspection
from inspections.device_book.life import joined
from inspections.device_book.sections import Column, Table
from inspections.models import Amendment, Attempt, Finding, Inspection, Replacement, Result

USE_ERROR = "use-error"
INSPECTIONS = Table(
    "inspections", "Inspections", (
        Column("number", "No.", 0.07), Column("procedure", "Procedure", 0.2), Column("signed", "Signed", 0.12, "day"),
        Column("by", "By", 0.15), Column("countersigned", "Countersigned", 0.15), Column("decision", "Result", 0.15),
        Column("digest", "SHA-256 of the record", 0.16, "digest"),
    ), "No inspection was signed.",
    "The whole content of each record is among the files of this book: records/NUMBER.json.",
)  # fmt: skip
NOT_PASSED = Table(
    "not_passed", "Results that did not pass", (
        Column("number", "No.", 0.08), Column("step", "Step", 0.34), Column("result", "Result", 0.33),
        Column("decision", "Decision", 0.25),
    ), "Every result of the signed inspections passed.", "By the last set of readings of each step.",
)  # fmt: skip
AMENDMENTS = Table(
    "amendments", "Amendments to records", (
        Column("number", "No.", 0.08), Column("at", "At", 0.2, "moment"), Column("correction", "Correction", 0.3),
        Column("reason", "Reason", 0.24), Column("by", "By", 0.18),
    ), "No record was amended.",
)  # fmt: skip
NOT_DONE = Table(
    "not_done", "Inspections that did not take place", (
        Column("number", "No.", 0.08), Column("procedure", "Procedure", 0.22), Column("day", "Day", 0.14, "day"),
        Column("what", "What happened", 0.38), Column("by", "By", 0.18),
    ), "No attempt failed and no inspection was voided.",
)  # fmt: skip
EARLIER = Table(
    "earlier", "Inspections recorded elsewhere", (
        Column("day", "Day", 0.13, "day"), Column("procedure", "Procedure", 0.3), Column("result", "Result", 0.2),
        Column("by", "By", 0.17), Column("reference", "Record and source", 0.2),
    ), "None is recorded.", "From older records; Bobbin computed and judged nothing of them.",
)  # fmt: skip
OF_FINDING = (
    Column("number", "No.", 0.07), Column("opened", "Opened", 0.12, "day"), Column("title", "What was wrong", 0.3),
    Column("code", "Why", 0.22), Column("closed", "Closed", 0.12, "day"), Column("note", "What was done", 0.17),
)  # fmt: skip
FINDINGS = Table("findings", "Findings", OF_FINDING, "No finding is recorded.")
USE_ERRORS = Table(
    "use_errors", "Use errors", OF_FINDING, "No finding is coded as a use error.",
    "The findings above that are coded so: what repeats here calls for instruction, or for another machine.",
)  # fmt: skip
REPLACED = Table(
    "replaced", "Components replaced at inspections", (
        Column("number", "No.", 0.08), Column("at", "At", 0.18, "moment"), Column("label", "Component", 0.2),
        Column("removed", "Removed", 0.27), Column("fitted", "Fitted", 0.27),
    ), "No component was replaced at an inspection.",
)  # fmt: skip


def inspections(machine):
    rows = Inspection.objects.signed().with_result().filter(machine=machine)
    rows = rows.select_related("procedure", "version", "signed_by", "countersigned_by")
    rows = rows.annotate(record_digest=F("record__digest")).order_by("signed_at", "pk")
    return INSPECTIONS.of(
        rows,
        lambda one: (
            one.pk, f"{one.procedure}, version {one.version.number}" if one.version else one.procedure, one.signed_at,
            one.signed_by, one.countersigned_by, one.result_words, one.record_digest,
        ),
    )  # fmt: skip


def not_passed(machine):
    rows = Result.objects.filter(step__inspection__in=Inspection.objects.signed().filter(machine=machine))
    rows = rows.filter(step__is_last=True, step__applies=True).exclude(decision__in=("", "pass"))
    rows = rows.select_related("step").order_by("step__inspection", "step__position", "pk")
    return NOT_PASSED.of(
        rows,
        lambda one: (
            one.step.inspection_id, one.step, joined(f"{one.label}: {one.shown.full_value}", one.remark),
            one.decision_words,
        ),
    )  # fmt: skip


def amendments(machine):
    rows = Amendment.objects.filter(inspection__machine=machine).select_related("by").order_by("at", "pk")
    return AMENDMENTS.of(rows, lambda one: (one.inspection_id, one.at, one.correction, one.reason, one.by))


def not_done(machine):
    """Attempts and voided inspections, in the order of their days."""
    tried = Attempt.objects.filter(inspection__machine=machine).select_related("inspection__procedure", "by")
    voided = Inspection.objects.void().filter(machine=machine).select_related("procedure", "voided_by")
    most = NOT_DONE.most
    rows = [
        (one.inspection_id, one.inspection.procedure, one.made_on, joined(one.words, one.reason), one.by)
        for one in tried.order_by("made_on", "pk")[:most]
    ]
    rows += [
        (one.pk, one.procedure, machine.site.date_of(one.voided_at), f"Void: {one.void_reason}", one.voided_by)
        for one in voided.order_by("voided_at", "pk")[:most]
    ]
    return NOT_DONE.of_rows(sorted(rows, key=lambda row: (row[2], row[0])))


def earlier(machine):
    rows = EarlierInspection.objects.filter(machine=machine).order_by("done_on", "pk")
    return EARLIER.of(
        rows, lambda one: (one.done_on, one.procedure, one.result, one.done_by, joined(one.reference, one.source))
    )  # fmt: skip


def findings(machine):
    return FINDINGS.of(_findings(machine), _finding)


def use_errors(machine):
    return USE_ERRORS.of(_findings(machine).filter(code=USE_ERROR), _finding)


def _findings(machine):
    return Finding.objects.filter(machine=machine).order_by("opened_at", "pk")


def _finding(one):
    code = one.failure_code.title if one.failure_code else one.code
    title = joined(one.title, f"{one.get_severity_display()}", one.get_origin_display())
    why = joined(code, one.cause, one.get_found_how_display() and f"found by: {one.get_found_how_display().lower()}")
    return one.pk, one.opened_at, title, why or "not coded", one.closed_at, one.closing_note


def replaced(machine):
    rows = Replacement.objects.in_force().filter(step__inspection__machine=machine).select_related("step")
    return REPLACED.of(
        rows.order_by("done_at", "pk"),
        lambda one: (one.step.inspection_id, one.done_at, one.label, one.removed_words, one.fitted_words),
    )  # fmt: skip
