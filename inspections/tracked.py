"""Which rows of the inspections keep their changes, and what of them is compared."""

from django.db.models import Exists, OuterRef

from fleet.acting.covered import exempt, leave_out
from fleet.changes import track
from inspections.models import (
    Amendment,
    AreaClosing,
    BenchUnits,
    CalendarFeed,
    ChainEntry,
    ChainHead,
    Competence,
    DeviceAnswer,
    DraftWriter,
    EntryKind,
    FaultReport,
    FeedEvent,
    Finding,
    FreeDay,
    Inspection,
    InspectionStep,
    InstrumentOfDay,
    Leave,
    LimitConfirmation,
    LimitOverride,
    MachineLabel,
    NotTestedMark,
    Photograph,
    ProcedureDraft,
    Proposal,
    ProposedDay,
    Reading,
    ReadingFileMapping,
    ReadingQuestion,
    Replacement,
    Result,
    SignedRecord,
    StepRemark,
    TrendForecast,
    WorkingHours,
    YearPlan,
)


def register():
    track(
        Inspection, "inspection", "machine", "procedure", "version", "stage", "due_on", "opens_on", "closes_on",
        "booked_on", "technician", "note", "retests", "ambient_kpa_abs", "temperature_c", "units", "opened_at",
        "signed_by", "signed_at", "countersigned_by", "countersigned_at", "void_reason", "minutes",
        permission="inspections.view_inspection",
    )  # fmt: skip
    track(
        Finding, "finding", "machine", "origin", "severity", "title", "description", "closed_at", "closed_by",
        "closing_note", "work_hours", permission="inspections.view_finding",
    )  # fmt: skip
    track(
        LimitOverride, "limit", "machine_model", "site", "test_code", "result_key", "rule", "lower", "upper", "unit",
        "reason", "source", "edition", "from_date", "until_date", "ended_reason",
        permission="inspections.view_procedure",
    )  # fmt: skip
    track(
        LimitConfirmation, "confirmation of a limit", "site", "test_code", "result_key", "rule", "rule_edition",
        "lower_si", "upper_si", "edition", "reason", "withdrawn_by", "withdrawn_at", "withdrawn_reason",
        permission="inspections.view_procedure",
    )  # fmt: skip
    track(
        Proposal, "proposal", "act", "title", "site", "machine", "inspection", "finding", "limit", "confirmation",
        "draft", "asked", "reason", "digest", "proposed_by", "state", "settled_by", "settled_at", "settled_reason",
        permission="inspections.view_inspection",
    )  # fmt: skip
    drafted = ("procedure", "code", "based_on", "made_by", "content", "state", "version")
    track(ProcedureDraft, "procedure-draft", *drafted, permission="inspections.view_procedure")
    track(DraftWriter, "writer", "person", "since", record="draft")
    label = ("issued_at", "replaced_at", "replaced_by", "replaced_reason")
    track(MachineLabel, "label", *label, record="machine")
    report = ("who", "state", "finding", "settled_by", "settled_at", "reason")
    track(FaultReport, "fault report", *report, record="machine")
    mark = ("reason", "by", "at", "undone_by", "undone_at")
    track(NotTestedMark, "step not tested", *mark, record="step.inspection")
    track(StepRemark, "remark", "text", "by", "at", record="step.inspection")
    photograph = ("caption", "digest", "octets", "by", "at", "removed_by", "removed_at")
    track(Photograph, "photograph", *photograph, record="shown_with")
    plates = (f"{which}_{what}" for which in ("removed", "fitted") for what in ("serial", "lot", "part_number"))
    replaced = ("label", *plates, "note", "done_at", "by", "withdrawn_by", "withdrawn_at", "fitted")
    track(Replacement, "component replaced", *replaced, record="step.inspection")
    _register_calendars()
    leave_out("the chains of signatures, each entry of which binds the one before", ChainEntry, ChainHead)
    leave_out("computed from the signed results every night", TrendForecast)
    leave_out("keys of requests, deleted after some days", DeviceAnswer)
    leave_out("frozen by the signature, in the chain of the site", Result, Reading, ReadingQuestion, SignedRecord)
    own = "what a bench page starts with: a reading holds its own unit and instrument"
    leave_out(own, BenchUnits, InstrumentOfDay, ReadingFileMapping)
    leave_out("bound by an entry of its own in the chain of the site", Amendment)
    signed = ChainEntry.objects.filter(kind=EntryKind.SIGNED, inspection=OuterRef("inspection"))
    exempt(InspectionStep, Exists(signed))


def _register_calendars():
    track(WorkingHours, "working hours", "weekday", "minutes", record="person")
    track(Leave, "leave", "kind", "first_day", "last_day", "withdrawn_at", "withdrawn_by", record="person")
    withdrawn = ("withdrawn_at", "withdrawn_by")
    competence = ("machine_model", "manufacturer", "last_day", "evidence", "confirmed_by", *withdrawn)
    track(Competence, "competence", *competence, record="person")
    track(FreeDay, "free day", "day", "title", "withdrawn_at", "withdrawn_by", record="site")
    closing = ("weekday", "first_day", "last_day", "reason", "withdrawn_at", "withdrawn_by")
    track(AreaClosing, "closing of an area", *closing, record="area")
    leave_out("what a calendar program read last, written by each reading", FeedEvent)
    track(CalendarFeed, "calendar link", "person", "area", *withdrawn, record="by")
    leave_out("a proposal, computed again on request; to accept it books inspections", YearPlan, ProposedDay)
