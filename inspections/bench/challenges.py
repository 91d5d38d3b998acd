"""Challenges: what must have been done to the machine for a result to mean anything.

A cut-off that was never tried, a leak at no pressure, a mixture that nobody asked too much of: each gives a figure
within its limit and proves nothing. So every result declares its challenge, and nothing passes without it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Reason(StrEnum):
    """Why a result is not judged. The first five belong to "not tested", the next two to "not decided"."""

    NOT_CHALLENGED = "not challenged"
    NOT_MEASURED = "not measured"
    BLIND = "not measurable by this method"
    NOT_KNOWN = "not known"
    OWN_REFERENCE = "its own reference"
    TOO_COARSE = "measure closer"
    CONTRADICTED = "readings contradict each other"
    REPORTED = "reported only"


@dataclass(frozen=True, slots=True)
class Unmet:
    """In what way a challenge was not met.

    why          a sentence for the person at the bench: what was done, and what would do
    reason       not challenged, blind, not known, or contradicted
    fail_stands  whether a clear fail still counts: a leak above its limit at a lower pressure is a leak
    """

    why: str
    reason: Reason = Reason.NOT_CHALLENGED
    fail_stands: bool = True


@dataclass(frozen=True, slots=True)
class Challenge:
    """A condition on the sheet without which a result does not pass.

    statement  what must have been done, in words
    unmet      given the Bench of the sheet, returns in what way it was not done, None if it was
    """

    statement: str
    unmet: Callable[[Any], Unmet | None]

    def __post_init__(self):
        if not self.statement.strip() or not callable(self.unmet):
            raise TypeError("A challenge needs a statement in words and a function that checks it.")


@dataclass(frozen=True, slots=True)
class NoChallenge:
    """The reason why a result needs no challenge: reading it is already the proof."""

    because: str

    def __post_init__(self):
        if not self.because.strip():
            raise TypeError("A result without a challenge needs the reason why it needs none.")

    @property
    def statement(self) -> str:
        return f"none: {self.because}"

    def unmet(self, bench: Any) -> None:
        return None


def first_unmet(*checks: Callable[[Any], Unmet | None]) -> Callable[[Any], Unmet | None]:
    """Return a check that gives the first of several that is not met."""

    def check(bench: Any) -> Unmet | None:
        return next((unmet for one in checks if (unmet := one(bench)) is not None), None)

    return check
