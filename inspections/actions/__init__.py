"""What can be done to inspections and findings, each action one verb in one transaction."""

from fleet.acting.scope import journal_actions
from inspections.actions.as_left import begin_all_called_for, begin_as_left, undo_as_left
from inspections.actions.bench import clear_reading, enter_reading, open_inspection, set_not_tested
from inspections.actions.component_replacements import change_replacement, record_replacement, withdraw_replacement
from inspections.actions.contests import settle_contest
from inspections.actions.contradictions import settle_contradictions
from inspections.actions.findings import close_finding, plan_retest, report_fault
from inspections.actions.limits import confirm_limit, end_limit_override, set_limit_override, withdraw_confirmation
from inspections.actions.planning import (
    book_inspection,
    book_inspections,
    plan_due_inspections,
    plan_inspection,
    void_inspection,
)
from inspections.actions.procedures import load_procedures
from inspections.actions.release import release_machine
from inspections.actions.reviews import judge_criterion
from inspections.actions.signing import (
    amend_inspection,
    countersign_inspection,
    draft_signature,
    reasons_against_signing,
    sign_inspection,
)

__all__ = [
    "amend_inspection",
    "begin_all_called_for",
    "begin_as_left",
    "book_inspection",
    "book_inspections",
    "change_replacement",
    "clear_reading",
    "close_finding",
    "confirm_limit",
    "countersign_inspection",
    "draft_signature",
    "end_limit_override",
    "enter_reading",
    "judge_criterion",
    "load_procedures",
    "open_inspection",
    "plan_due_inspections",
    "plan_inspection",
    "plan_retest",
    "reasons_against_signing",
    "record_replacement",
    "release_machine",
    "report_fault",
    "set_limit_override",
    "set_not_tested",
    "settle_contest",
    "settle_contradictions",
    "sign_inspection",
    "undo_as_left",
    "void_inspection",
    "withdraw_confirmation",
    "withdraw_replacement",
]

journal_actions(globals(), __all__, but=("reasons_against_signing",))
