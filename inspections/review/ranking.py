"""Rank reviewed machines, worst first, and show what changes when the weights change.

The order is lexicographic, so that no amount of lesser trouble outweighs a greater one: the steps of STEPS, one after
the other. Only the third and the fifth depend on weights. Machines that are equal in every step share a rank, and are
listed by asset number, which says nothing of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from fleet.catalogue import HAZARDS
from inspections.review.burden import DEFAULT_WEIGHTS, window_start
from inspections.review.judging import Conclusion, Review

HAZARD_WEIGHTS: Mapping[str, float] = MappingProxyType({hazard.code: hazard.weight for hazard in HAZARDS.values()})
ORDER = tuple(Conclusion)
STEPS: Mapping[str, str] = MappingProxyType(
    {
        "conclusion": "conclusion by the criteria",
        "absolute criteria": "more absolute criteria met",
        "hazard weight": "greater weight of the hazards left open",
        "relative criteria": "more relative criteria met",
        "burden": "greater burden, to the tenth",
        "not known": "more absolute criteria that are not known",
        "end of support": "earlier end of spare parts and service; not known comes last",
        "hours withdrawn": "more hours withdrawn from use in the last two years, to the hour",
        "findings": "more findings in the last two years",
    }
)
EQUAL = "equal in every step"


@dataclass(frozen=True, slots=True)
class Weights:
    """Policy: severity weight by hazard code, burden weight by part code; both >= 0. Defaults are those of the data."""

    hazards: Mapping[str, float] = field(default_factory=lambda: HAZARD_WEIGHTS)
    burden: Mapping[str, float] = field(default_factory=lambda: DEFAULT_WEIGHTS)

    def __post_init__(self):
        missing = [code for code in HAZARDS if code not in self.hazards]
        if missing or min(self.hazards.values()) < 0:
            raise ValueError(
                f"hazard weights need every hazard, none negative; missing: {', '.join(missing) or 'none'}"
            )


@dataclass(frozen=True, slots=True)
class Place:
    """A machine's place (1 = worst; equals share a place) and the figures that put it there, in their order.

    decided_by  the step that put it after the machine before it; empty for the first
    """

    place: int
    review: Review
    absolute: int
    exposure: float
    relative: int
    burden: float
    decided_by: str = ""


@dataclass(frozen=True, slots=True)
class Move:
    """A machine whose place differs between two sets of weights."""

    name: str
    before: int
    after: int


def exposure(review: Review, weights: Weights) -> float:
    """Return the summed severity weight of the hazards that criteria or circuit leave open, each counted once."""
    return sum(weights.hazards[code] for code in review.exposed)


def rank_key(review: Review, weights: Weights) -> tuple[float, ...]:
    """Return the figures that rank a machine, smaller = worse, one for each of STEPS."""
    return (
        ORDER.index(review.conclusion),
        -len(review.absolute_met),
        -exposure(review, weights),
        -len(review.relative_met),
        -round(review.burden.score(weights.burden), 1),
        *last_steps(review),
    )


def last_steps(review: Review) -> tuple[float, ...]:
    """Return the figures of the steps after the burden, on which no weight acts."""
    facts = review.facts
    first = window_start(facts.on)
    return (
        -len(review.open_questions),
        (facts.upkeep.until or date.max).toordinal(),
        -round(facts.hours_down or 0),
        -sum(first <= event.on <= facts.on for event in facts.findings),
    )


def rank(
    reviews: Sequence[Review], weights: Weights | None = None, *, of: Mapping[str, Weights] | None = None
) -> tuple[Place, ...]:
    """Return the reviews ranked, worst first. Raises ValueError for weights that cannot be.

    of  weights by the name of a machine, for machines of sites with weights of their own; others have `weights`
    """
    weights, of = weights or Weights(), of or {}
    rows = ((rank_key(each, of.get(each.facts.name, weights)), each.facts.name, each) for each in reviews)
    places: list[Place] = []
    before: tuple[float, ...] = ()
    for index, (key, _name, each) in enumerate(sorted(rows, key=lambda row: row[:2])):
        places.append(
            Place(
                place=places[-1].place if key == before else index + 1,
                review=each,
                absolute=-int(key[1]),
                exposure=-key[2],
                relative=-int(key[3]),
                burden=-key[4],
                decided_by=_decided_by(before, key),
            )
        )
        before = key
    return tuple(places)


def _decided_by(before, key):
    if not before:
        return ""
    return next((step for step, a, b in zip(STEPS, before, key, strict=True) if a != b), EQUAL)


def moves(reviews: Sequence[Review], before: Weights, after: Weights) -> tuple[Move, ...]:
    """Return the machines whose place changes when `after` replaces `before`, in the order of `after`.

    Machines are identified by name, which must be unique among the reviews.
    """
    earlier = {place.review.facts.name: place.place for place in rank(reviews, before)}
    later = [(place.review.facts.name, place.place) for place in rank(reviews, after)]
    return tuple(Move(name, earlier[name], place) for name, place in later if earlier[name] != place)
