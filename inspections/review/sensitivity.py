"""How far the ranking depends on its weights: each is changed alone, up to half less and half more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.catalogue import HAZARDS
from fleet.late import np
from inspections.review.burden import PARTS
from inspections.review.judging import Review
from inspections.review.ranking import ORDER, Weights, last_steps

FARTHEST = 0.5  # the part of itself by which a weight is changed at most
STEP = 0.01
FIRST = 10


@dataclass(frozen=True, slots=True)
class WeightRange:
    """One weight, and by which part of itself it may be changed, alone, before the first machines are others.

    lowest, highest  -0.5 to 0 and 0 to 0.5, to the hundredth; at -0.5 or 0.5 nothing changed as far as was tried
    """

    code: str
    name: str
    is_hazard: bool
    lowest: float
    highest: float

    @property
    def holds_throughout(self) -> bool:
        return self.lowest <= -FARTHEST and self.highest >= FARTHEST


@dataclass(frozen=True, slots=True)
class RankRange:
    """A machine with its position in the list, and the best and worst that any single change of a weight gave it."""

    name: str
    position: int
    highest: int
    lowest: int


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What was found: `first` is how many machines at the head of the list are compared."""

    first: int
    weights: tuple[WeightRange, ...]
    ranks: tuple[RankRange, ...]


def sensitivity(
    reviews: Sequence[Review], weights: Weights | None = None, *, of: Mapping[str, Weights] | None = None,
    first: int = FIRST,
) -> Sensitivity:  # fmt: skip
    """Return how far each weight may be changed without another machine among the first, and the range of each rank.

    weights, of  as for `rank`; a change acts on the weights of all machines at once
    """
    if not reviews:
        return Sensitivity(first, (), ())
    figures = _Figures(reviews, weights or Weights(), of or {})
    order = figures.order()
    head = {int(row) for row in order[:first]}
    listed = [("hazard", code, HAZARDS[code].name) for code in HAZARDS]
    listed += [("burden", code, part.name) for code, part in PARTS.items()]
    found, positions = [], [_positions(order)]
    for kind, code, name in listed:
        ends = []
        for sign in (-1, 1):
            positions.append(_positions(figures.order(kind, code, 1 + sign * FARTHEST)))
            ends.append(_farthest(figures, kind, code, sign, head, first))
        found.append(WeightRange(code, name, kind == "hazard", -ends[0], ends[1]))
    ranks = tuple(
        RankRange(figures.names[row], place, *_ends(positions, row)) for place, row in enumerate(order[:first], start=1)
    )
    return Sensitivity(first, tuple(found), ranks)


def _ends(positions, row):
    """The best and the worst position of a machine in any of the orders."""
    held = [int(each[row]) for each in positions]
    return min(held), max(held)


def _positions(order):
    """The position of each machine in an order, from 1."""
    positions = np.empty(len(order), dtype=int)
    positions[order] = np.arange(1, len(order) + 1)
    return positions


def _farthest(figures, kind, code, sign, head, first):
    """How far a weight goes, in steps of a hundredth, before the first machines are others.

    The order of two machines turns at most once as one weight grows (but for the rounding of the burden to the tenth),
    so that what holds at a step holds before it.
    """
    holds, fails = 0, round(FARTHEST / STEP) + 1
    while fails - holds > 1:
        middle = (holds + fails) // 2
        order = figures.order(kind, code, 1 + sign * middle * STEP)
        if {int(row) for row in order[:first]} == head:
            holds = middle
        else:
            fails = middle
    return holds * STEP


class _Figures:
    """The figures that rank machines as arrays, one row for each machine."""

    def __init__(self, reviews, weights, of):
        self.names = [each.facts.name for each in reviews]
        sets = [of.get(name, weights) for name in self.names]
        self.hazards, self.parts = list(HAZARDS), list(PARTS)
        self.open = np.array([[code in each.exposed for code in self.hazards] for each in reviews], dtype=float)
        self.hazard_weights = np.array([[each.hazards[code] for code in self.hazards] for each in sets], dtype=float)
        self.shares = np.array([[part.share for part in each.burden.parts] for each in reviews])
        self.burden_weights = np.array([[each.burden[code] for code in self.parts] for each in sets], dtype=float)
        self.head = _ranked([(ORDER.index(each.conclusion), -len(each.absolute_met)) for each in reviews])
        self.relative = np.array([-len(each.relative_met) for each in reviews])
        tails = zip((last_steps(each) for each in reviews), self.names, strict=True)
        self.tail = _ranked([(*steps, name) for steps, name in tails])

    def order(self, kind="", code="", factor=1.0):
        """Return the rows, worst first, with one weight multiplied by a factor."""
        hazards, burden = self.hazard_weights, self.burden_weights
        if kind == "hazard":
            hazards = _scaled(hazards, self.hazards.index(code), factor)
        if kind == "burden":
            burden = _scaled(burden, self.parts.index(code), factor)
        exposure = np.round((self.open * hazards).sum(axis=1), 9)
        score = np.round(100 * (self.shares * burden).sum(axis=1) / burden.sum(axis=1), 1)
        return np.lexsort((self.tail, -score, self.relative, -exposure, self.head))


def _scaled(weights, column, factor):
    scaled = weights.copy()
    scaled[:, column] *= factor
    return scaled


def _ranked(keys):
    """Return the rank of each key among the distinct ones."""
    ranks = {key: rank for rank, key in enumerate(sorted(set(keys)))}
    return np.array([ranks[key] for key in keys])
