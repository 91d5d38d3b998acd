"""Whether to ask about a reading: another reading would explain it far better than what was typed."""

from collections.abc import Sequence
from dataclasses import dataclass

from .alternatives import NEARLY_THE_SAME, Alternative, Typed, alternatives_to
from .expectations import density
from .knowledge import Knowledge

FAR_BETTER = 6.0
"""How many times likelier an alternative must be. Chosen by the rates of tests/benchmarks/bench_slips.py."""
SURPRISE = 0.005
"""Density of what nobody expected: a real change, a fault. It keeps an alternative that itself fits badly from being
proposed. About 3 % of readings over five powers of ten; common practice, no source."""
FINER = 0.02  # share left to an alternative with finer digits than any earlier reading of the step shows
SWAPPED_SETTING = 0.5  # share left to swapped digits of what is set: another setting is the likelier reason
OFFERED = 2  # alternatives at most
WORTH_OFFERING = 0.1  # of the likelihood of the best


@dataclass(frozen=True, slots=True)
class Question:
    """A doubt about a typed reading: what may have been meant, the likeliest first, each so many times likelier."""

    alternatives: tuple[Alternative, ...]
    ratio: float


def question_about(typed: Typed, units: Sequence[str], known: Knowledge) -> Question | None:
    """Return the question to ask about a reading, None where it needs none or too little is known.

    units  those that its place takes, those in use here first
    """
    if not known.expectations or not typed.value:
        return None
    as_typed = density(known.scale, known.expectations, typed.value) + SURPRISE
    found = sorted(_likely(typed, units, known), key=lambda pair: -pair[0])
    if not found or found[0][0] < FAR_BETTER * as_typed:
        return None
    best = found[0][0]
    offered = [one for likelihood, one in found if likelihood >= max(WORTH_OFFERING * best, FAR_BETTER * as_typed)]
    return Question(_distinct(offered, units)[:OFFERED], best / as_typed)


def _likely(typed, units, known):
    for one in alternatives_to(typed, units):
        try:
            value, step = one.typed.value, one.typed.step
        except ValueError:
            continue
        share = FINER if step < 0.5 * known.finest else 1.0
        if known.is_set and one.slip == "digits":
            share *= SWAPPED_SETTING
        yield share * density(known.scale, known.expectations, value), one


def _distinct(alternatives, units):
    """Leave out what says nearly the same in another unit, such as hPa beside mbar: the first of `units` stays."""
    found = []
    for one in sorted(alternatives, key=lambda one: units.index(one.typed.unit)):
        if not any(one.slip == other.slip == "unit" and _is_near(one, other) for other in found):
            found.append(one)
    return tuple(one for one in alternatives if one in found)


def _is_near(one, other):
    return abs(one.typed.value - other.typed.value) < NEARLY_THE_SAME * abs(other.typed.value)
