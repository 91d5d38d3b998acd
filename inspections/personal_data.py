"""What the inspections store about a person. All but choices at the bench stays: a record says who did what."""

from fleet.people.personal_data import Treatment, declare
from inspections.models import (
    Amendment,
    AreaClosing,
    BenchUnits,
    CalendarFeed,
    Competence,
    CriterionJudgement,
    DeviceAnswer,
    DraftWriter,
    FaultReport,
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
    ProcedureVersion,
    Proposal,
    ProposedDay,
    Reading,
    ReadingFileMapping,
    ReadingQuestion,
    Replacement,
    StepRemark,
    WorkingHours,
    YearPlan,
)

SIGNED = "A record names the people who worked on it, and its chain shows whether it was altered."
READ = "A reading says who entered it; the chain of records shows whether that was altered."


def register():
    _register_procedures()
    _register_limits()
    _register_calendars()
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
    declare(Finding, "opened_by", Treatment.KEPT, "Findings opened", "A finding says who reported it.")
    declare(Finding, "closed_by", Treatment.KEPT, "Findings closed", "A finding says who closed it.")
    declare(FaultReport, "settled_by", Treatment.KEPT, "Fault reports triaged", "A report says who triaged it.")
    of_label = "A label says who gave it its code."
    declare(MachineLabel, "issued_by", Treatment.KEPT, "Labels issued", of_label)
    declare(MachineLabel, "replaced_by", Treatment.KEPT, "Codes of labels replaced", of_label)
    declare(CriterionJudgement, "by", Treatment.KEPT, "Retirement criteria judged", "A judgement names its judge.")
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
    declare(LimitConfirmation, "withdrawn_by", Treatment.KEPT, "Confirmations of limits withdrawn", confirmed)


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
