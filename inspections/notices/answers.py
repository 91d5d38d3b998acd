"""The three answers to "is it concerned", each with the reason in words. Plain Python."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Match(StrEnum):
    CONCERNED = "concerned"
    NOT_CONCERNED = "not concerned"
    UNDECIDED = "cannot be decided"


@dataclass(frozen=True, slots=True)
class Answer:
    """`reason` is a sentence without its full stop; empty where there is nothing to say."""

    match: Match
    reason: str = ""


NO = Answer(Match.NOT_CONCERNED)
ORDER = (Match.CONCERNED, Match.UNDECIDED, Match.NOT_CONCERNED)


def all_of(answers: Iterable[Answer]) -> Answer:
    """Return the answer where every condition must hold: one that does not decides, then one that is not known."""
    return _worst(answers, tuple(reversed(ORDER)), Match.CONCERNED, stops_at=Match.NOT_CONCERNED)


def any_of(answers: Iterable[Answer]) -> Answer:
    """Return the answer where one condition is enough: one that holds decides, then one that is not known."""
    return _worst(answers, ORDER, Match.NOT_CONCERNED, stops_at=Match.CONCERNED)


def _worst(answers, order, default, *, stops_at):
    """Return the first match in `order` that occurs, with all its reasons, each once."""
    found = {}
    for answer in answers:
        found.setdefault(answer.match, []).append(answer.reason)
        if answer.match is stops_at and answer.match is Match.NOT_CONCERNED:
            return NO
    match = next((one for one in order if one in found), default)
    reasons = dict.fromkeys(reason for reason in found.get(match, ()) if reason)
    return Answer(match, "; ".join(reasons))
