"""What the inspections store about a person. All but choices at the bench stays: a record says who did what."""

from fleet.people.personal_data import Treatment, declare
from inspections.models import (
    Amendment,
    AreaClosing,
    Attachment,
    Attempt,
    BenchUnits,
    CalendarFeed,
    Competence,
    ComponentLife,
    CriterionJudgement,
    DecommissioningAnswer,
    DeviceAnswer,
    DeviceBook,
    DraftWriter,
    EvidencePolicy,
    ExposureHistory,
    FaultReport,
    Finding,
    FleetChoice,
    FreeDay,
    IncidentNote,
    Inspection,
    InspectionStep,
    InstrumentOfDay,
    IntervalDossier,
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
    ProcedureVersion,
    Proposal,
    ProposedDay,
    Reading,
    ReadingFileMapping,
    ReadingQuestion,
    Replacement,
    ReviewWeights,
    SafetyNotice,
    SeriousIncident,
    StepRemark,
    WorkingHours,
    YearPlan,
)

SIGNED = "A record names the people who worked on it, and its chain shows whether it was altered."
READ = "A reading says who entered it; the chain of records shows whether that was altered."


def register():
    _register_procedures()
    _register_limits()
    _register_notices()
    _register_planning()
    _register_findings()
    _register_calendars()
    _register_evidence()
    for field, words in (
        ("technician", "Inspections booked"),
        ("planned_by", "Inspections planned"),
        ("booked_by", "Inspections booked for this person"),
        ("opened_by", "Inspections started"),
        ("signed_by", "Inspections signed"),
        ("countersigned_by", "Inspections countersigned"),
        ("voided_by", "Inspections voided"),
    ):
        declare(Inspection, field, Treatment.KEPT, words, SIGNED)
    for model, words in (
        (BenchUnits, "Units at the bench"),
        (InstrumentOfDay, "Instruments chosen for a day"),
        (DeviceAnswer, "Changes sent by devices, by their keys"),
    ):
        declare(model, "person", Treatment.REMOVED, words)
    declare(ReadingFileMapping, "by", Treatment.RELEASED, "Columns of files of instruments assigned")
    declare(Attempt, "by", Treatment.KEPT, "Attempts recorded", "An attempt says who made it.")
    declare(Amendment, "by", Treatment.KEPT, "Amendments", SIGNED)
    declare(Reading, "entered_by", Treatment.KEPT, "Readings entered", READ)
    declare(Reading, "superseded_by", Treatment.KEPT, "Readings replaced", READ)
    declare(Reading, "settled_by", Treatment.KEPT, "Choices between two readings", READ)
    declare(ReadingQuestion, "by", Treatment.KEPT, "Questions about readings answered", SIGNED)
    declare(NotTestedMark, "by", Treatment.KEPT, "Steps marked as not tested", SIGNED)
    declare(NotTestedMark, "undone_by", Treatment.KEPT, "Marks “not tested” undone", SIGNED)
    declare(StepRemark, "by", Treatment.KEPT, "Remarks on steps", SIGNED)
    declare(Photograph, "by", Treatment.KEPT, "Photographs", SIGNED)
    declare(Photograph, "removed_by", Treatment.KEPT, "Photographs removed", SIGNED)
    declare(InspectionStep, "begun_by", Treatment.KEPT, "Steps tested again as left", SIGNED)
    declare(Replacement, "by", Treatment.KEPT, "Components entered as replaced", SIGNED)
    declare(Replacement, "withdrawn_by", Treatment.KEPT, "Entries of replaced components withdrawn", SIGNED)


def _register_evidence():
    for field, words in (
        ("by", "Files attached"),
        ("withdrawn_by", "Attached files withdrawn"),
        ("removed_by", "Attached files removed"),
    ):
        declare(Attachment, field, Treatment.KEPT, words, "A file that is evidence says who brought it.")
    end = "The end of a machine says who saw to it."
    declare(DecommissioningAnswer, "by", Treatment.KEPT, "Items of decommissionings", end)
    declare(DeviceBook, "made_by", Treatment.KEPT, "Device books made", "A book that was handed out says by whom.")


def _register_findings():
    declare(Finding, "opened_by", Treatment.KEPT, "Findings opened", "A finding says who reported it.")
    declare(Finding, "closed_by", Treatment.KEPT, "Findings closed", "A finding says who closed it.")
    declare(FaultReport, "settled_by", Treatment.KEPT, "Fault reports triaged", "A report says who triaged it.")
    of_label = "A label says who gave it its code."
    declare(MachineLabel, "issued_by", Treatment.KEPT, "Labels issued", of_label)
    declare(MachineLabel, "replaced_by", Treatment.KEPT, "Codes of labels replaced", of_label)
    declare(CriterionJudgement, "by", Treatment.KEPT, "Retirement criteria judged", "A judgement names its judge.")
    declare(ReviewWeights, "by", Treatment.KEPT, "Weights of the review set", "A ranking names who set its weights.")
    declare(ExposureHistory, "by", Treatment.KEPT, "Exposure over time computed", "It names who asked for it.")
    declare(FleetChoice, "by", Treatment.KEPT, "Choices for the fleet computed", "A choice names who asked for it.")
    declare(Proposal, "proposed_by", Treatment.KEPT, "Decisions proposed", "A decision says who proposed it.")
    declare(Proposal, "settled_by", Treatment.KEPT, "Proposals decided", "A decision says who confirmed it.")


def _register_procedures():
    of_version = "A version of a procedure says who wrote it and who approved it."
    declare(ProcedureVersion, "proposed_by", Treatment.KEPT, "Versions of procedures proposed", of_version)
    declare(ProcedureVersion, "approved_by", Treatment.KEPT, "Versions of procedures approved", of_version)
    declare(ProcedureDraft, "made_by", Treatment.KEPT, "Drafts of procedures begun", of_version)
    declare(ProcedureDraft, "changed_by", Treatment.KEPT, "Drafts of procedures changed last", of_version)
    declare(DraftWriter, "person", Treatment.KEPT, "Drafts of procedures written in", of_version)


def _register_limits():
    declare(LimitOverride, "by", Treatment.KEPT, "Limits set", "A limit that judges records says who set it.")
    confirmed = "A confirmation that judges records says who made it."
    declare(LimitConfirmation, "by", Treatment.KEPT, "Limits confirmed", confirmed)
    declare(LimitLeft, "by", Treatment.KEPT, "Limits left as proposed", confirmed)
    declare(LimitLeft, "taken_back_by", Treatment.KEPT, "Limits left as proposed and taken back", confirmed)
    declare(LimitConfirmation, "withdrawn_by", Treatment.KEPT, "Confirmations of limits withdrawn", confirmed)


def _register_notices():
    proof = "The proof that a notice was followed says who did what."
    declare(SafetyNotice, "entered_by", Treatment.KEPT, "Safety notices entered", proof)
    declare(SafetyNotice, "closed_by", Treatment.KEPT, "Safety notices closed", proof)
    declare(NoticeCriterion, "added_by", Treatment.KEPT, "Criteria of safety notices added", proof)
    declare(NoticeCriterion, "withdrawn_by", Treatment.KEPT, "Criteria of safety notices withdrawn", proof)
    declare(NoticeItem, "settled_by", Treatment.KEPT, "Items of safety notices settled", proof)
    of_incident = "The file of a serious incident says who was there; it never changes."
    declare(SeriousIncident, "opened_by", Treatment.KEPT, "Serious incidents opened", of_incident)
    declare(SeriousIncident, "closed_by", Treatment.KEPT, "Serious incidents closed", of_incident)
    declare(IncidentNote, "by", Treatment.KEPT, "Notes to serious incidents", of_incident)


def _register_planning():
    of_rule = "A rule that decides what is planned says who made it and who ended it."
    declare(PlanningRule, "by", Treatment.KEPT, "Planning rules added", of_rule)
    declare(PlanningRule, "ended_by", Treatment.KEPT, "Planning rules ended", of_rule)
    of_dossier = "A dossier that decides how often is inspected says who drafted, approved and ended it."
    declare(IntervalDossier, "drafted_by", Treatment.KEPT, "Dossiers of intervals drafted", of_dossier)
    declare(IntervalDossier, "approved_by", Treatment.KEPT, "Dossiers of intervals approved", of_dossier)
    declare(IntervalDossier, "ended_by", Treatment.KEPT, "Dossiers of intervals ended", of_dossier)
    declare(EvidencePolicy, "by", Treatment.KEPT, "Policies of dossiers confirmed", of_dossier)
    declare(EvidencePolicy, "proposed_by", Treatment.KEPT, "Policies of dossiers proposed", of_dossier)
    declare(ComponentLife, "by", Treatment.KEPT, "Lives of components set", of_rule)
    declare(ComponentLife, "ended_by", Treatment.KEPT, "Lives of components ended", of_rule)
    declare(MeterReading, "by", Treatment.KEPT, "Meter readings entered", "A reading says who entered it.")
    declare(MeterReading, "withdrawn_by", Treatment.KEPT, "Meter readings withdrawn", "A reading says who entered it.")


def _register_calendars():
    declare(WorkingHours, "person", Treatment.REMOVED, "Working hours")
    declare(Leave, "person", Treatment.REMOVED, "Leave and illness")
    declare(YearPlan, "by", Treatment.REMOVED, "Plans of a year computed")
    declare(CalendarFeed, "person", Treatment.REMOVED, "Calendar links")
    declare(ProposedDay, "technician", Treatment.REMOVED, "Days proposed by plans of a year")
    competent = "A competence says who could sign what, and who confirmed it."
    declare(Competence, "person", Treatment.KEPT, "Competences", competent)
    declare(Competence, "confirmed_by", Treatment.KEPT, "Competences confirmed", competent)
    declare(Competence, "withdrawn_by", Treatment.KEPT, "Competences withdrawn", competent)
    entered = "A calendar says who entered what."
    for model, words in (
        (Leave, "Days away"),
        (FreeDay, "Free days of sites"),
        (AreaClosing, "Closing days of areas"),
        (CalendarFeed, "Calendar links"),
    ):
        declare(model, "by", Treatment.KEPT, f"{words} entered", entered)
        declare(model, "withdrawn_by", Treatment.KEPT, f"{words} withdrawn", entered)
