"""Rank reviewed machines, worst first, and show what changes when the weights change.

The order is lexicographic, so that no amount of lesser trouble outweighs a greater one:
1. conclusion (obsolete, consider replacement, keep); 2. how many absolute criteria are met; 3. summed severity weight
of the hazards left open, by the met criteria or by the gas circuit as computed, each hazard once; 4. how many relative
criteria are met; 5. maintenance burden; then open questions and name.
Only steps 3 and 5 depend on weights.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from fleet.catalogue import HAZARDS
from inspections.review.burden import DEFAULT_WEIGHTS
from inspections.review.judging import Conclusion, Review

HAZARD_WEIGHTS: Mapping[str, float] = MappingProxyType({hazard.code: hazard.weight for hazard in HAZARDS.values()})
ORDER = tuple(Conclusion)


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
    """A machine's place (1 = worst; equals share a place) and the figures that put it there, in their order."""

    place: int
    review: Review
    absolute: int
    exposure: float
    relative: int
    burden: float


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
    """Return the figures that rank a machine, smaller = worse. Burden is taken to the tenth that is shown."""
    return (
        ORDER.index(review.conclusion),
        -len(review.absolute_met),
        -exposure(review, weights),
        -len(review.relative_met),
        -round(review.burden.score(weights.burden), 1),
        -len(review.open_questions),
    )


def rank(reviews: Sequence[Review], weights: Weights | None = None) -> tuple[Place, ...]:
    """Return the reviews ranked, worst first. Raises ValueError for weights that cannot be."""
    weights = weights or Weights()
    keyed = sorted(((rank_key(each, weights), each.facts.name, each) for each in reviews), key=lambda row: row[:2])
    places: list[Place] = []
    for index, (key, _name, each) in enumerate(keyed):
        same = index > 0 and key == keyed[index - 1][0]
        places.append(
            Place(
                place=places[-1].place if same else index + 1,
                review=each,
                absolute=-int(key[1]),
                exposure=-key[2],
                relative=-int(key[3]),
                burden=-key[4],
            )
        )
    return tuple(places)


def moves(reviews: Sequence[Review], before: Weights, after: Weights) -> tuple[Move, ...]:
    """Return the machines whose place changes when `after` replaces `before`, in the order of `after`.

    Machines are identified by name, which must be unique among the reviews.
    """
    earlier = {place.review.facts.name: place.place for place in rank(reviews, before)}
    later = [(place.review.facts.name, place.place) for place in rank(reviews, after)]
    return tuple(Move(name, earlier[name], place) for name, place in later if earlier[name] != place)
