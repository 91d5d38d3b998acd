"""What was measured, and what follows from it."""

from inspections.models.attachments import Attachment
from inspections.models.attempts import Attempt, AttemptKind
from inspections.models.bench_choices import BenchUnits, InstrumentOfDay, ReadingFileMapping
from inspections.models.calendar_feeds import CalendarFeed, FeedEvent
from inspections.models.calendars import AreaClosing, Competence, FreeDay, Leave, WorkingHours
from inspections.models.chain import ChainEntry, ChainHead, EntryKind
from inspections.models.completions import Completion
from inspections.models.component_lives import ComponentLife, LifeUnit, MeterReading
from inspections.models.confirmations import LimitConfirmation
from inspections.models.decommissioning import DecommissioningAnswer
from inspections.models.device_answers import DeviceAnswer
from inspections.models.device_books import DeviceBook
from inspections.models.evidence_policies import EvidencePolicy
from inspections.models.exposure_history import ExposureHistory
from inspections.models.findings import Finding, FoundHow, Severity
from inspections.models.fleet_choices import FleetChoice
from inspections.models.incidents import IncidentNote, SeriousIncident
from inspections.models.inspections import Inspection, InspectionStep, Stage
from inspections.models.interval_dossiers import IntervalDossier
from inspections.models.judgements import CriterionJudgement
from inspections.models.kept_rows import KeptCount, KeptDueDate, KeptReview, KeptRules
from inspections.models.labels import FaultPhotograph, FaultReport, MachineLabel, UserCheck
from inspections.models.limits import LimitOverride
from inspections.models.limits_left import LimitLeft
from inspections.models.not_tested import NotTestedMark
from inspections.models.notices import NoticeCriterion, NoticeItem, SafetyNotice
from inspections.models.planning_rules import ContainedInspection, PlanningRule, RuleSource
from inspections.models.procedure_drafts import DraftWriter, ProcedureDraft
from inspections.models.procedures import Procedure, ProcedureVersion
from inspections.models.proposals import Proposal
from inspections.models.questions import QuestionAnswer, QuestionKind, ReadingQuestion
from inspections.models.readings import Reading, Result
from inspections.models.records import Amendment, SignedRecord
from inspections.models.replacements import Replacement
from inspections.models.review_weights import ReviewWeights
from inspections.models.step_notes import Photograph, StepRemark
from inspections.models.trends import TrendForecast
from inspections.models.year_plans import ProposedDay, YearPlan

__all__ = [
    "Amendment",
    "Attachment",
    "Attempt",
    "AttemptKind",
    "AreaClosing",
    "BenchUnits",
    "CalendarFeed",
    "ChainEntry",
    "ChainHead",
    "Completion",
    "ComponentLife",
    "ContainedInspection",
    "Competence",
    "CriterionJudgement",
    "DecommissioningAnswer",
    "DeviceAnswer",
    "DeviceBook",
    "DraftWriter",
    "EntryKind",
    "FaultPhotograph",
    "FaultReport",
    "FeedEvent",
    "Finding",
    "EvidencePolicy",
    "ExposureHistory",
    "FleetChoice",
    "FoundHow",
    "IncidentNote",
    "FreeDay",
    "Inspection",
    "InspectionStep",
    "InstrumentOfDay",
    "LifeUnit",
    "Leave",
    "LimitConfirmation",
    "LimitLeft",
    "LimitOverride",
    "MachineLabel",
    "MeterReading",
    "NotTestedMark",
    "NoticeCriterion",
    "NoticeItem",
    "Photograph",
    "IntervalDossier",
    "KeptCount",
    "KeptDueDate",
    "KeptReview",
    "KeptRules",
    "PlanningRule",
    "Result",
    "Procedure",
    "ProcedureDraft",
    "ProcedureVersion",
    "Proposal",
    "ProposedDay",
    "QuestionAnswer",
    "QuestionKind",
    "Reading",
    "ReadingFileMapping",
    "ReadingQuestion",
    "Replacement",
    "ReviewWeights",
    "RuleSource",
    "SafetyNotice",
    "SeriousIncident",
    "Severity",
    "SignedRecord",
    "Stage",
    "StepRemark",
    "TrendForecast",
    "UserCheck",
    "WorkingHours",
    "YearPlan",
]
