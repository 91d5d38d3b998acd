"""Every change of the register: each action is one verb in one transaction."""

from fleet.acting.scope import journal_actions
from fleet.actions.alterations import (
    add_to_alteration,
    carry_out_alteration,
    leave_out_of_alteration,
    plan_alteration,
    take_up_alteration_again,
)
from fleet.actions.area_periods import move_machine
from fleet.actions.away_periods import expect_back, send_away, take_back
from fleet.actions.circuit import (
    disconnect_ports,
    insert_component,
    join_ports,
    replace_component,
    take_out_component,
    undo_circuit_change,
)
from fleet.actions.circuit_copy import copy_circuits
from fleet.actions.components import fit_component, remove_component
from fleet.actions.device_book_records import instruct_users, record_software, withdraw_book_record
from fleet.actions.digests import choose_digest
from fleet.actions.features import record_feature_state
from fleet.actions.first_day import put_start_away, show_start_again
from fleet.actions.instruments import (
    add_instrument,
    decide_calibration_rules,
    enter_calibration_points,
    record_calibration,
)
from fleet.actions.models import add_model, change_model
from fleet.actions.money import choose_currency, enter_amount, enter_purchases, withdraw_amount
from fleet.actions.passkeys import add_passkey, remove_passkey, rename_passkey
from fleet.actions.pasted import add_people, add_places
from fleet.actions.people import (
    add_person,
    change_person,
    lock_person,
    password_link,
    remove_second_factor,
    set_up_second_factor,
    unlock_person,
)
from fleet.actions.person_removal import remove_person
from fleet.actions.places import add_area, add_site, change_area, change_site
from fleet.actions.register import Entry, correct_machine, register_machine, register_machines
from fleet.actions.status import retire_machine, return_machine_to_service, withdraw_machine
from fleet.actions.tokens import add_token, confirm_token, note_token_use, revoke_token
from fleet.jobs.lifecycle import cancel_job, recover_jobs, request_job, retry_job

__all__ = [
    "Entry",
    "add_area",
    "add_instrument",
    "add_model",
    "add_passkey",
    "add_people",
    "add_person",
    "add_places",
    "add_site",
    "add_to_alteration",
    "add_token",
    "cancel_job",
    "carry_out_alteration",
    "change_area",
    "change_model",
    "change_person",
    "change_site",
    "choose_currency",
    "choose_digest",
    "confirm_token",
    "copy_circuits",
    "decide_calibration_rules",
    "enter_amount",
    "enter_calibration_points",
    "enter_purchases",
    "expect_back",
    "correct_machine",
    "fit_component",
    "insert_component",
    "instruct_users",
    "join_ports",
    "leave_out_of_alteration",
    "note_token_use",
    "lock_person",
    "move_machine",
    "disconnect_ports",
    "password_link",
    "plan_alteration",
    "put_start_away",
    "record_calibration",
    "record_feature_state",
    "record_software",
    "recover_jobs",
    "register_machine",
    "register_machines",
    "remove_component",
    "request_job",
    "remove_passkey",
    "remove_person",
    "remove_second_factor",
    "set_up_second_factor",
    "rename_passkey",
    "replace_component",
    "retire_machine",
    "retry_job",
    "return_machine_to_service",
    "revoke_token",
    "send_away",
    "take_back",
    "show_start_again",
    "take_out_component",
    "take_up_alteration_again",
    "undo_circuit_change",
    "unlock_person",
    "withdraw_amount",
    "withdraw_book_record",
    "withdraw_machine",
]

# Background jobs, the use of a token and what a person sees on Home write no row that the journal covers, often.
NOT_JOURNALED = (
    "cancel_job",
    "note_token_use",
    "put_start_away",
    "recover_jobs",
    "request_job",
    "retry_job",
    "show_start_again",
)
journal_actions(globals(), __all__, but=NOT_JOURNALED)
