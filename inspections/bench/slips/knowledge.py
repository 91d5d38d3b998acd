"""From earlier readings, the readings of this step and the ratings to the expectations of one place."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from statistics import median

from .expectations import Expectation, Scale

USUAL_SPREAD = 0.08
"""How far readings of one place differ from one inspection to the next, as a natural logarithm: about 8 %.

Of pressures and flows that are set and read again. Common practice, no source; the place's own readings correct it.
"""
SPREAD_OF_MODEL = 0.12  # the same between machines of one model; common practice, no source
USUAL_COUNTS = 1.0  # as many readings as the figure above counts for beside the place's own
FARTHEST = 3.0  # a reading farther away than a factor of 20 says that something else happened, not how much varies
ROUNDING = 0.41  # 1 / sqrt(6): standard deviation of the difference of two readings, in steps of their resolution
NEAR_ZERO = 0.005  # of the largest value of a column: less than that is nothing
TAILS = 2.0  # degrees of freedom before anything was read; each reading adds one
SETTING = 1.0  # the same of a column that is set
OTHER_SETTINGS = 10.0  # the same for each row above that is at none of the values of its row before
MOVED_ROW = 0.1  # on the scale: less than that is the same value
OTHER_ROW = 0.3  # readings that it counts for that a row of a sweep may lie between its neighbours of last time
ROW_ABOVE, ROW_ABOVE_SPREAD = 0.1, 0.3  # share and spread of the reading in the row above
TOGETHER, TOGETHER_SPREAD = 0.5, 0.15  # share and spread of what moved as the other readings of the step did
MOVED = 0.25  # on the scale: less than that is no move
RATED, RATED_SPREAD = 0.1, 0.25  # share beside earlier readings, and spread added to half the width of a range

Slot = tuple[str, int, str]


@dataclass(frozen=True, slots=True)
class Read:
    """A reading as far as it is compared: place, value and resolution in SI, and at which inspection it was read.

    step        the worth of its last digit, SI
    beside      what the rows above and below show; of a column that is set its smallest and largest value; SI
    is_between  True for a value taken from those beside it: the curve may run anywhere between them
    """

    slot: Slot
    value: float
    step: float
    occasion: int = 0
    beside: tuple[float, ...] = ()
    is_between: bool = False

    @property
    def column(self) -> tuple[str, str]:
        return (self.slot[0], self.slot[2])


@dataclass(frozen=True, slots=True)
class Range:
    """Values that a place usually shows, or is rated for, SI."""

    low: float
    high: float
    source: str = "usual"


@dataclass(frozen=True, slots=True)
class Knowledge:
    """The scale of a place and its expectations.

    finest     resolution of the finest earlier reading of the step, SI; 0 where one reading alone cannot say
    occasions  at how many earlier inspections the place was read
    is_set     whether a person sets the place
    """

    scale: Scale
    expectations: tuple[Expectation, ...]
    finest: float = 0.0
    occasions: int = 0
    is_set: bool = False


def knowledge_of(
    slot: Slot,
    earlier: Sequence[Read],
    now: Sequence[Read] = (),
    ranges: Sequence[Range] = (),
    *,
    of_model: bool = False,
    is_linear: bool = False,
    is_set: bool = False,
) -> Knowledge:
    """Return what is known of a place before its reading is looked at.

    earlier   readings of the same dimension at earlier inspections of the same step, in any order; of tables as
              `in_rows_of_today` sees them
    now       current readings of the same dimension in this step, without those that are in doubt
    ranges    what the place is rated for, or usually shows
    of_model  whether `earlier` are of other machines of the model, for a place of which this one has none
    is_set    whether a person sets the place, who may choose another value each time
    """
    earlier = sorted(earlier, key=lambda one: (one.occasion, one.slot, one.value))
    own = [one for one in earlier if one.slot == slot]
    scale = _scale(slot, earlier, own, is_linear)
    known = [one for one in own if scale.position(one.value) is not None]
    others = (SETTING if is_set else OTHER_ROW) + OTHER_SETTINGS * _moved_rows(scale, slot, earlier, now)
    found = [*_history(scale, known, others, of_model), *_from_ranges(scale, ranges, beside=bool(known))]
    if known:
        found += [*_together(scale, slot, known, earlier, now), *_row_above(slot, now)]
    finest = min(one.step for one in earlier) if own and len(earlier) > 1 else 0.0
    return Knowledge(scale, tuple(found), finest, len(own), is_set)


def _scale(slot, earlier, own, is_linear):
    step = min((one.step for one in own), default=0.0)
    column = [abs(one.value) for one in earlier if slot[2] and one.column == (slot[0], slot[2])]
    return Scale(max(step / 2, NEAR_ZERO * max(column, default=0.0)), is_linear)


def _history(scale, known, others, of_model):
    """An expectation about each earlier reading of the place; of a row also a wide one between the rows beside it."""
    if not known:
        return []
    step = min(one.step for one in known)
    usual, source = (SPREAD_OF_MODEL, "same model") if of_model else (USUAL_SPREAD, "earlier")
    spread = _common_spread([scale.position(one.value) for one in known], usual)
    tails = TAILS + len(known)
    share, found = others / (others + len(known)), []
    for one in known:
        narrow = sqrt(spread**2 + (ROUNDING * scale.width(one.value, step)) ** 2)
        between = _between_rows(scale, one)
        wide = Expectation(one.value, max(between, narrow), source, tails, share)
        if one.is_between:
            found.append(replace(wide, weight=1.0))
        elif between:
            found += [Expectation(one.value, narrow, source, tails, 1 - share), wide]
        else:
            found.append(Expectation(one.value, narrow, source, tails))
    return found


def _moved_rows(scale, slot, earlier, now):
    """Return how many rows of today's column are at none of the values of the same row before."""
    before = defaultdict(list)
    for one in earlier:
        before[one.slot].append(one.value)
    rows = [one for one in now if slot[2] and one.column == (slot[0], slot[2]) and one.slot in before]
    return sum(all(abs(_move(scale, value, one.value)) > MOVED_ROW for value in before[one.slot]) for one in rows)


def _common_spread(positions, usual):
    middle = median(positions)
    squares = sum(min(abs(position - middle), FARTHEST) ** 2 for position in positions)
    return sqrt((USUAL_COUNTS * usual**2 + squares) / (USUAL_COUNTS + len(positions) - 1))


def _between_rows(scale, one):
    """Return half the distance to the farther one of the values beside it, 0 outside a table."""
    places, own = [scale.position(value) for value in one.beside], scale.position(one.value)
    return max((abs(place - own) for place in places if place is not None), default=0.0) / 2


def _together(scale, slot, known, earlier, now):
    """Where other readings of the step moved since last time, this one may have moved too: a leak shows in each."""
    latest = max(known, key=lambda one: one.occasion)
    last = {one.slot: one.value for one in earlier if one.occasion == latest.occasion}
    moves = [_move(scale, last[one.slot], one.value) for one in now if one.slot != slot and one.slot in last]
    share = TOGETHER * len(known) / len(moves) if moves else 0.0
    return [
        Expectation(scale.moved(latest.value, move), TOGETHER_SPREAD, "moved together", TAILS + 1, share)
        for move in moves
        if abs(move) > MOVED
    ]


def _move(scale, before, after):
    ends = scale.position(before), scale.position(after)
    return ends[1] - ends[0] if None not in ends else 0.0


def _row_above(slot, now):
    field, row, column = slot
    above = [one for one in now if column and one.slot == (field, row - 1, column) and one.value]
    return [Expectation(one.value, ROW_ABOVE_SPREAD, "row above", TAILS, ROW_ABOVE) for one in above]


def _from_ranges(scale, ranges, *, beside):
    found = []
    for one in ranges:
        low, high = scale.position(one.low), scale.position(one.high)
        if low is None or high is None:
            continue
        centre = (one.low + one.high) / 2 if scale.is_linear else sqrt(one.low * one.high)
        found.append(
            Expectation(centre, (high - low) / 2 + RATED_SPREAD, one.source, TAILS + 2, RATED if beside else 1.0)
        )
    return found


def distance(scale: Scale, one: float, other: float) -> float:
    """Return how far two values are apart on the scale."""
    return abs(_move(scale, one, other))
