"""What can be done to inspections and findings, each action one verb in one transaction."""

from fleet.acting.scope import journal_actions
from inspections.actions.alterations import ask_for_retest_of_alteration
from inspections.actions.as_left import begin_all_called_for, begin_as_left, undo_as_left
from inspections.actions.attachments import attach_file, remove_attachment_content, withdraw_attachment
from inspections.actions.attempts import record_attempt
from inspections.actions.bench import clear_reading, enter_reading, open_inspection, set_not_tested
from inspections.actions.calendar_feeds import make_calendar_feed
from inspections.actions.calendars import (
    add_free_day,
    close_area,
    confirm_competence,
    enter_leave,
    set_working_hours,
    withdraw_calendar_entry,
)
from inspections.actions.component_lives import (
    end_component_life,
    enter_meter_reading,
    set_component_life,
    withdraw_meter_reading,
)
from inspections.actions.component_replacements import change_replacement, record_replacement, withdraw_replacement
from inspections.actions.contained import settle_contained
from inspections.actions.contests import settle_contest
from inspections.actions.contradictions import settle_contradictions
from inspections.actions.decommissioning import answer_decommissioning_item
from inspections.actions.device_books import record_device_books
from inspections.actions.evidence_policies import set_evidence_policy
from inspections.actions.fault_reports import add_report_to_finding, dismiss_report, open_finding_of_report
from inspections.actions.findings import close_finding, code_finding, plan_retest, report_fault
from inspections.actions.fleet_choices import store_fleet_choice
from inspections.actions.incidents import add_incident_note, close_incident, open_incident
from inspections.actions.interval_dossiers import approve_dossier, discard_dossier, draft_dossier, watch_dossier
from inspections.actions.labels import issue_label, record_user_check, replace_label, report_from_label
from inspections.actions.levelling import level_first_inspections
from inspections.actions.limits import (
    confirm_limit,
    end_limit_override,
    leave_limits_as_proposed,
    set_limit_override,
    take_back_limit_left,
    withdraw_confirmation,
)
from inspections.actions.notices import (
    add_criterion,
    add_notice,
    close_notice,
    correct_criterion,
    match_notice,
    open_finding_of_item,
    open_found_error_notice,
    plan_work_of_item,
    settle_item,
    settle_items,
    withdraw_criterion,
)
from inspections.actions.planning import (
    book_inspection,
    book_inspections,
    plan_due_inspections,
    plan_inspection,
    unbook_inspection,
    void_inspection,
)
from inspections.actions.planning_rules import add_planning_rule, carry_out_rules, end_planning_rule
from inspections.actions.procedure_drafts import (
    add_draft_steps,
    begin_draft,
    change_draft_head,
    change_draft_step,
    change_not_tested,
    discard_draft,
    import_draft,
    move_draft_step,
    remove_draft_step,
)
from inspections.actions.procedures import approve_draft, begin_versions, load_procedures
from inspections.actions.questions import confirm_reading, enter_meant
from inspections.actions.reading_file import enter_readings_of_file
from inspections.actions.release import release_machine
from inspections.actions.reviews import judge_criterion, weigh_review
from inspections.actions.signing import (
    amend_inspection,
    countersign_inspection,
    draft_signature,
    reasons_against_signing,
    sign_inspection,
)
from inspections.actions.step_notes import add_photograph, caption_photograph, remove_photograph, write_remark
from inspections.actions.test_set import add_to_test_set, choose_test_set
from inspections.actions.units import choose_units
from inspections.actions.year_plan import accept_year_plan, compute_year, move_bookings_of, propose_year

__all__ = [
    "approve_dossier",
    "discard_dossier",
    "draft_dossier",
    "leave_limits_as_proposed",
    "take_back_limit_left",
    "watch_dossier",
    "attach_file",
    "withdraw_attachment",
    "remove_attachment_content",
    "answer_decommissioning_item",
    "record_device_books",
    "add_criterion",
    "add_notice",
    "ask_for_retest_of_alteration",
    "close_notice",
    "correct_criterion",
    "match_notice",
    "open_finding_of_item",
    "open_found_error_notice",
    "plan_work_of_item",
    "settle_item",
    "settle_items",
    "add_incident_note",
    "close_incident",
    "open_incident",
    "accept_year_plan",
    "add_draft_steps",
    "add_free_day",
    "add_photograph",
    "add_planning_rule",
    "add_report_to_finding",
    "add_to_test_set",
    "amend_inspection",
    "approve_draft",
    "begin_all_called_for",
    "begin_as_left",
    "begin_draft",
    "begin_versions",
    "book_inspection",
    "book_inspections",
    "caption_photograph",
    "carry_out_rules",
    "change_draft_head",
    "change_draft_step",
    "change_not_tested",
    "change_replacement",
    "choose_test_set",
    "choose_units",
    "clear_reading",
    "close_area",
    "close_finding",
    "code_finding",
    "compute_year",
    "confirm_competence",
    "confirm_limit",
    "confirm_reading",
    "countersign_inspection",
    "discard_draft",
    "dismiss_report",
    "draft_signature",
    "end_component_life",
    "end_limit_override",
    "end_planning_rule",
    "enter_leave",
    "enter_meant",
    "enter_meter_reading",
    "enter_reading",
    "enter_readings_of_file",
    "import_draft",
    "issue_label",
    "judge_criterion",
    "level_first_inspections",
    "load_procedures",
    "make_calendar_feed",
    "move_bookings_of",
    "move_draft_step",
    "open_finding_of_report",
    "open_inspection",
    "plan_due_inspections",
    "plan_inspection",
    "plan_retest",
    "propose_year",
    "reasons_against_signing",
    "record_attempt",
    "record_replacement",
    "record_user_check",
    "release_machine",
    "remove_draft_step",
    "remove_photograph",
    "replace_label",
    "report_fault",
    "report_from_label",
    "set_component_life",
    "set_evidence_policy",
    "set_limit_override",
    "set_not_tested",
    "settle_contained",
    "set_working_hours",
    "settle_contest",
    "settle_contradictions",
    "sign_inspection",
    "store_fleet_choice",
    "unbook_inspection",
    "undo_as_left",
    "void_inspection",
    "weigh_review",
    "withdraw_calendar_entry",
    "withdraw_criterion",
    "withdraw_confirmation",
    "withdraw_meter_reading",
    "withdraw_replacement",
    "write_remark",
]

# A test set is no row that the journal covers, and a plan that is only computed writes none. What falls due is planned
# by an action for each batch of machines.
NOT_ONE_ACTION = (
    "add_to_test_set",
    "choose_test_set",
    "compute_year",
    "plan_due_inspections",
    "reasons_against_signing",
)
journal_actions(globals(), __all__, but=NOT_ONE_ACTION)
