"""What can be done to the register, each action one verb in one transaction."""

from fleet.actions.components import fit_component, remove_component
from fleet.actions.duty import retire_machine, return_machine_to_service, withdraw_machine
from fleet.actions.features import record_feature_state
from fleet.actions.instruments import record_calibration
from fleet.actions.register import register_machine

__all__ = [
    "fit_component",
    "record_calibration",
    "record_feature_state",
    "register_machine",
    "remove_component",
    "retire_machine",
    "return_machine_to_service",
    "withdraw_machine",
]
