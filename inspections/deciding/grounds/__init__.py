"""The grounds of a decision: what the page shows to the person who decides, as {where: {what: value}} in words.

A form carries them as a signed token. The action describes them again from what it is about to write, inside its
transaction, and refuses with a list of what changed if the two differ. Two people who decide together may be shown
other units or another decimal sign, so grounds are written neutrally (fleet.place_format.NEUTRAL).
"""

from inspections.deciding.grounds.comparing import GroundChange, changes_between, digest_of_grounds, refuse_if_changed
from inspections.deciding.grounds.tokens import read_token, write_token

__all__ = [
    "GroundChange",
    "changes_between",
    "digest_of_grounds",
    "read_token",
    "refuse_if_changed",
    "write_token",
]
