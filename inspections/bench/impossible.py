"""Readings that cannot both be right: pairs of places that a test declares, each with its physical reason.

A pair is asked about, never refused: a gauge may be at fault, which belongs on the record. SI, pressures gauge.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .slips.knowledge import Read

GAUGES_DIFFER = 0.03
"""Share by which two readings of one pressure or flow may differ without a doubt: two gauges of 1.6 % of their span.

Class 1.6 of EN 837-1, from memory. Two steps of resolution are added.
"""
Place = tuple[str, str]  # field and column, "" outside a table


@dataclass(frozen=True, slots=True)
class NeverAbove:
    """What is read at `lower` cannot be above what is read at `upper`. Two columns of one table: in the same row.

    Says nothing of suction, where one of the two is below zero.
    """

    lower: Place
    upper: Place
    reason: str
    tolerance: float = GAUGES_DIFFER

    def contradictions(self, reads: Mapping[tuple[str, int, str], Read]) -> Iterable[tuple[Read, Read]]:
        """Yield (lower, upper) of all that contradict each other."""
        lows, highs = (_of_place(reads, place) for place in (self.lower, self.upper))
        is_by_row = self.lower[0] == self.upper[0]
        for low in lows:
            for high in highs:
                if is_by_row and low.slot[1] != high.slot[1]:
                    continue
                if min(low.value, high.value) >= 0 and _is_above(low, high, self.tolerance):
                    yield low, high


@dataclass(frozen=True, slots=True)
class NeverCrosses:
    """Over the same `x` the `y` of the table `lower` cannot be above that of the table `upper`, and `y` rises with `x`.

    So no row of `lower` has a larger y than a row of `upper` at a larger x. The two may be one table. `falls` for a y
    that falls as x grows. Of suction the magnitude counts.
    """

    lower: str
    upper: str
    x: str
    y: str
    reason: str
    falls: bool = False
    tolerance: float = 0.1

    def contradictions(self, reads: Mapping[tuple[str, int, str], Read]) -> Iterable[tuple[Read, Read]]:
        """Yield the two y of every pair of rows that contradict each other, (lower, upper)."""
        uppers = list(self._rows(reads, self.upper))
        for low_x, low_y in self._rows(reads, self.lower):
            for high_x, high_y in uppers:
                if self._is_farther(low_x, high_x) and _is_above(low_y, high_y, self.tolerance):
                    yield low_y, high_y

    def _rows(self, reads, table):
        for (field, row, column), one in reads.items():
            other = reads.get((table, row, self.y))
            if (field, column) == (table, self.x) and other is not None:
                yield one, other

    def _is_farther(self, low, high):
        near, far = (high, low) if self.falls else (low, high)
        return _is_above(far, near, GAUGES_DIFFER)


Pair = NeverAbove | NeverCrosses


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two readings that cannot both be right, and why."""

    lower: Read
    upper: Read
    reason: str


def contradictions_with(
    pairs: Iterable[Pair], reads: Mapping[tuple[str, int, str], Read], slot: tuple[str, int, str]
) -> list[Contradiction]:
    """Return what contradicts the reading at `slot`, the grossest of each pair.

    reads  the current readings of a step by their places, without choices and answers
    """
    found = []
    for pair in pairs:
        own = [both for both in pair.contradictions(reads) if slot in _concerned(pair, both)]
        if own:
            lower, upper = max(own, key=lambda both: abs(abs(both[0].value) - abs(both[1].value)))
            found.append(Contradiction(lower, upper, pair.reason))
    return found


def _concerned(pair, both):
    """The places whose reading a contradiction speaks of: with a curve also where on it the two lie."""
    slots = [one.slot for one in both]
    if isinstance(pair, NeverCrosses):
        slots += [(field, row, pair.x) for field, row, _ in slots]
    return slots


def _of_place(reads, place):
    return [one for one in reads.values() if one.column == place]


def _is_above(one, other, tolerance):
    """Whether `one` is above `other` by more than gauges differ and than their last digits can show."""
    size, other_size = abs(one.value), abs(other.value)
    return size - other_size > tolerance * max(size, other_size) + one.step + other.step
