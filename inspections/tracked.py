"""Which rows of the inspections keep their changes, and what of them is compared."""

from django.db.models import Exists, OuterRef

from fleet.acting.covered import exempt, leave_out
from fleet.changes import track
from inspections.models import (
    Amendment,
    AreaClosing,
    Attachment,
    Attempt,
    BenchUnits,
    CalendarFeed,
    ChainEntry,
    ChainHead,
    Competence,
    Completion,
    ComponentLife,
    ContainedInspection,
    DecommissioningAnswer,
    DeviceAnswer,
    DeviceBook,
    DraftWriter,
    EntryKind,
    EvidencePolicy,
    ExposureHistory,
    FaultReport,
    FeedEvent,
    Finding,
    FreeDay,
    IncidentNote,
    Inspection,
    InspectionStep,
    InstrumentOfDay,
    IntervalDossier,
    KeptCount,
    KeptDueDate,
    KeptReview,
    KeptRules,
    Leave,
    LimitConfirmation,
    LimitLeft,
    LimitOverride,
    MachineLabel,
    MeterReading,
    NoticeCriterion,
    NoticeItem,
    NotTestedMark,
    Photograph,
    PlanningRule,
    ProcedureDraft,
    Proposal,
    ProposedDay,
    Reading,
    ReadingFileMapping,
    ReadingQuestion,
    Replacement,
    Result,
    SafetyNotice,
    SeriousIncident,
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
        "closing_note", "work_hours", "code", "cause", "found_how", permission="inspections.view_finding",
    )  # fmt: skip
    _track_notices()
    _track_planning()
    _track_calendars()
    _track_limits()
    track(
        Proposal, "proposal", "act", "title", "site", "machine", "inspection", "finding", "limit", "confirmation",
        "draft", "dossier", "asked", "reason", "digest", "proposed_by", "state", "settled_by", "settled_at",
        "settled_reason", permission="inspections.view_inspection",
    )  # fmt: skip
    of_dossier = ("procedure", "machine_model", "interval_months", "window_days", "data_from", "as_of", "most_share",
                  "reason", "digest", "state", "approved_by", "rule", "ended_reason", "watched_share")  # fmt: skip
    track(IntervalDossier, "interval-dossier", *of_dossier, permission="inspections.view_procedure")
    drafted = ("procedure", "code", "based_on", "made_by", "content", "state", "version")
    track(ProcedureDraft, "procedure-draft", *drafted, permission="inspections.view_procedure")
    track(DraftWriter, "writer", "person", "since", record="draft")
    label = ("issued_at", "replaced_at", "replaced_by", "replaced_reason")
    track(MachineLabel, "label", *label, record="machine")
    report = ("who", "state", "finding", "settled_by", "settled_at", "reason")
    track(FaultReport, "fault report", *report, record="machine")
    _track_notes()
    leave_out("the chains of signatures, each entry of which binds the one before", ChainEntry, ChainHead)
    leave_out("computed from the signed results every night", TrendForecast)
    leave_out("computed from the circuits on earlier days and a stored choice", ExposureHistory)
    leave_out("computed at the signature from the signed results", Completion)
    leave_out("computed by each action, and compared every night", KeptCount, KeptDueDate, KeptReview, KeptRules)
    leave_out("keys of requests, deleted after some days", DeviceAnswer)
    leave_out("frozen by the signature, in the chain of the site", Result, Reading, ReadingQuestion, SignedRecord)
    own = "what a bench page starts with: a reading holds its own unit and instrument"
    leave_out(own, BenchUnits, InstrumentOfDay, ReadingFileMapping)
    leave_out("bound by an entry of its own in the chain of the site", Amendment)
    signed = ChainEntry.objects.filter(kind=EntryKind.SIGNED, inspection=OuterRef("inspection"))
    exempt(InspectionStep, Exists(signed))


def _track_notes():
    """What is written down beside an inspection and its steps, and the files attached to anything."""
    gone = (f"{done}_{what}" for done in ("withdrawn", "removed") for what in ("by", "at", "reason"))
    attached = ("title", "name", "kind", "digest", "octets", "by", "at", *gone)
    track(Attachment, "attachment", *attached, permission="inspections.view_attachment")
    answered = ("code", "state", "route", "words", "proof", "by", "at")
    track(DecommissioningAnswer, "item of the decommissioning", *answered, record="machine")
    track(DeviceBook, "device book", "digest", "files", "records", "made_by", "made_at", record="machine")
    attempt = ("kind", "reason", "decided_by", "until", "made_on", "by", "at")
    track(Attempt, "attempt", *attempt, record="inspection")
    mark = ("reason", "by", "at", "undone_by", "undone_at")
    track(NotTestedMark, "step not tested", *mark, record="step.inspection")
    track(StepRemark, "remark", "text", "by", "at", record="step.inspection")
    photograph = ("caption", "digest", "octets", "by", "at", "removed_by", "removed_at")
    track(Photograph, "photograph", *photograph, record="shown_with")
    plates = (f"{which}_{what}" for which in ("removed", "fitted") for what in ("serial", "lot", "part_number"))
    replaced = ("label", *plates, "note", "done_at", "by", "withdrawn_by", "withdrawn_at", "fitted")
    track(Replacement, "component replaced", *replaced, record="step.inspection")


def _track_limits():
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
    left = ("site", "test_code", "result_key", "code", "reason", "taken_back_by", "taken_back_at", "taken_back_reason")
    track(LimitLeft, "limit left as proposed", *left, permission="inspections.view_procedure")


def _track_notices():
    notice = ("published_by", "reference", "title", "published_on", "received_on", "answer_by", "asks", "as_published",
              "closed_at", "closed_by", "closing_note")  # fmt: skip
    track(SafetyNotice, "notice", *notice, permission="inspections.view_safetynotice")
    criterion = ("what", "kind", "manufacturer", "model", "name", "part_numbers", "serials", "lots", "built_from",
                 "built_to", "withdrawn_reason", "withdrawn_by", "withdrawn_at")  # fmt: skip
    track(NoticeCriterion, "criterion", *criterion, record="notice")
    item = ("machine", "component", "instrument", "inspection", "match", "reason", "state", "words", "settled_by",
            "settled_at", "finding", "planned")  # fmt: skip
    track(NoticeItem, "notice-item", *item, permission="inspections.view_safetynotice")
    incident = ("machine", "jurisdiction", "digest", "opened_by", "opened_at", "closed_by", "closed_at",
                "closing_reason")  # fmt: skip
    track(SeriousIncident, "incident", *incident, permission="inspections.view_seriousincident")
    track(IncidentNote, "note of an incident", "text", "by", "at", record="incident")


def _track_planning():
    policy = ("code", "most_share", "confidence", "source", "reason", "proposed_by")
    track(EvidencePolicy, "evidence-policy", *policy, permission="inspections.view_procedure")
    ended = ("reason", "from_date", "until_date", "ended_reason", "ended_by")
    track(
        PlanningRule, "planning-rule", "procedure", "reach", "machine", "feature", "machine_model", "area", "site",
        "is_planned", "interval_months", "interval_days", "window_days", "minutes", "skills", "source", "reference",
        *ended,
        permission="inspections.view_procedure",
    )  # fmt: skip
    life = ("kind", "machine_model", "life", "unit", "source", "reference", *ended)
    track(ComponentLife, "component-life", *life, permission="inspections.view_procedure")
    track(
        MeterReading,
        "meter reading",
        "component",
        "unit",
        "used",
        "read_on",
        "note",
        "withdrawn_by",
        "withdrawn_at",
        record="component.machine",
    )
    track(ContainedInspection, "contained procedure", "procedure", "done_on", "settled", record="done_in")


def _track_calendars():
    track(WorkingHours, "working hours", "weekday", "minutes", record="person")
    track(Leave, "leave", "kind", "first_day", "last_day", "withdrawn_at", "withdrawn_by", record="person")
    withdrawn = ("withdrawn_at", "withdrawn_by")
    competence = ("machine_model", "manufacturer", "skill", "last_day", "evidence", "confirmed_by", *withdrawn)
    track(Competence, "competence", *competence, record="person")
    track(FreeDay, "free day", "day", "title", "withdrawn_at", "withdrawn_by", record="site")
    closing = ("weekday", "first_day", "last_day", "reason", "withdrawn_at", "withdrawn_by")
    track(AreaClosing, "closing of an area", *closing, record="area")
    leave_out("what a calendar program read last, written by each reading", FeedEvent)
    track(CalendarFeed, "calendar link", "person", "area", *withdrawn, record="by")
    leave_out("a proposal, computed again on request; to accept it books inspections", YearPlan, ProposedDay)
