"""Decisions that call for a password and a reason, and where the rules say so for a second person.

`decide` carries one out, or keeps it as a proposal that another person confirms, declines, or its author takes back.
"""

from inspections.proposals.acts import (
    ACTS,
    Amending,
    ApprovingInterval,
    ApprovingProcedure,
    Closing,
    ConfirmingLimit,
    EndingLimit,
    Releasing,
    SettingLimit,
    SettingPolicy,
    WithdrawingConfirmation,
    act_of,
)
from inspections.proposals.proposing import confirm_proposal, decide, decline_proposal, take_back_proposal

__all__ = [
    "ACTS",
    "Amending",
    "ApprovingInterval",
    "ApprovingProcedure",
    "Closing",
    "ConfirmingLimit",
    "EndingLimit",
    "Releasing",
    "SettingLimit",
    "SettingPolicy",
    "WithdrawingConfirmation",
    "act_of",
    "confirm_proposal",
    "decide",
    "decline_proposal",
    "take_back_proposal",
]
