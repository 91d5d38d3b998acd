"""What was measured, and what follows from it."""

from inspections.models.chain import ChainEntry, ChainHead, EntryKind
from inspections.models.confirmations import LimitConfirmation
from inspections.models.device_answers import DeviceAnswer
from inspections.models.findings import Finding, Severity
from inspections.models.inspections import Inspection, InspectionStep, Stage
from inspections.models.judgements import CriterionJudgement
from inspections.models.limits import LimitOverride
from inspections.models.not_tested import NotTestedMark
from inspections.models.procedures import Procedure, ProcedureVersion
from inspections.models.proposals import Proposal
from inspections.models.readings import Reading, Result
from inspections.models.records import Amendment, SignedRecord

__all__ = [
    "Amendment",
    "ChainEntry",
    "ChainHead",
    "CriterionJudgement",
    "DeviceAnswer",
    "EntryKind",
    "Finding",
    "Inspection",
    "InspectionStep",
    "LimitConfirmation",
    "LimitOverride",
    "NotTestedMark",
    "Result",
    "Procedure",
    "ProcedureVersion",
    "Proposal",
    "Reading",
    "Severity",
    "SignedRecord",
    "Stage",
]
