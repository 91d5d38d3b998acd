"""Solves how gas spreads along flows, in many networks at once, without any subtraction.

So a fraction is exact to its last digits even in a loop whose fresh inflow is 1e-12 of its flow. Source: from memory,
Grassmann, Taksar and Heyman, Operations Research 1985; 33: 1107-1116.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.late import np


@dataclass(frozen=True)
class Step:
    """The elimination of junctions that have no neighbour in common, with their places and those of their weights.

    of         for each neighbour which of the junctions it is a neighbour of; `first` the first of each junction
    there      the neighbours that are left; `inward` weights from each to its junction, `outward` the other way
    changed    weights between two neighbours; `by_share`, `by_weight` which neighbours, as places in `there`
    """

    junctions: np.ndarray
    of: np.ndarray
    first: np.ndarray
    there: np.ndarray
    inward: np.ndarray
    outward: np.ndarray
    changed: np.ndarray
    by_share: np.ndarray
    by_weight: np.ndarray


class Elimination:
    """The order in which junctions are eliminated, and the places of the weights between them.

    pairs    junctions between which gas may flow, in either direction; size  the number of junctions
    outside  junctions whose gas is always given, such as the room
    """

    def __init__(self, pairs: Iterable[tuple[int, int]], size: int, outside: Iterable[int] = ()):
        self.outside = sorted(outside)
        self.places: dict[tuple[int, int], int] = {}
        near: dict[int, set[int]] = {junction: set() for junction in range(size) if junction not in self.outside}
        for i, j in pairs:
            if i != j:
                self._place(i, j), self._place(j, i)
                if i in near and j in near:
                    near[i].add(j)
                    near[j].add(i)
        self._from_outside([pair for pair in self.places if pair[1] in self.outside and pair[0] in near])
        self.steps = []
        left = set(near)
        while left:
            self.steps.append(self._step([k for k in left if not near[k]] or chosen(left, near), near))
            left.difference_update(self.steps[-1].junctions.tolist())
        self.size, self.count = size, len(self.places)
        self.table = np.full((size, size), -1)
        for (i, j), place in self.places.items():
            self.table[i, j] = place

    def _place(self, i: int, j: int) -> int:
        return self.places.setdefault((i, j), len(self.places))

    def _from_outside(self, pairs: list[tuple[int, int]]):
        pairs.sort()
        self.into = np.array([i for i, _ in pairs], dtype=int)
        self.out_of = np.array([j for _, j in pairs], dtype=int)
        self.entering = np.array([self.places[pair] for pair in pairs], dtype=int)

    def _step(self, junctions: list[int], near: dict[int, set[int]]) -> Step:
        columns: list[list[int]] = [[] for _ in range(8)]
        of, first, there, inward, outward, changed, by_share, by_weight = columns
        for n, k in enumerate(junctions):
            base, beside = len(there), sorted(near[k])
            first.append(base)
            of += [n] * len(beside)
            there += beside
            inward += [self._place(k, j) for j in beside]
            outward += [self._place(i, k) for i in beside]
            for i, one in enumerate(beside):
                for j, other in enumerate(beside):
                    if i != j:
                        changed.append(self._place(one, other))
                        by_share.append(base + i)
                        by_weight.append(base + j)
            for i in beside:
                near[i] |= near[k]
                near[i] -= {i, k}
        return Step(*(np.array(column, dtype=int) for column in (junctions, *columns)))

    def unknowns(self, diagonal: np.ndarray, weights: np.ndarray, right: np.ndarray) -> np.ndarray:
        """Return x with diagonal x + weights x = right, row by row; x is zero outside.

        diagonal  shape (junctions, networks), not zero; `right` and x the same
        weights   shape (places, networks): of the second junction of a pair in the row of the first
        All three are overwritten. The diagonal must outweigh the rest, as it does where all flows fall with a pressure.
        """
        for step in self.steps:
            k, of = step.junctions, step.of
            if not len(of):
                continue
            inward, here = weights[step.inward], diagonal[k]
            share = weights[step.outward] / here[of]
            weights[step.changed] -= share[step.by_share] * inward[step.by_weight]
            diagonal[step.there] -= share * inward
            right[step.there] -= share * right[k][of]
        right[self.outside] = 0.0
        for step in reversed(self.steps):
            k = step.junctions
            if len(step.of):
                right[k] -= np.add.reduceat(weights[step.inward] * right[step.there], step.first, axis=0)
            right[k] /= diagonal[k]
        return right

    def solve(self, weights: np.ndarray, bound: np.ndarray, own: np.ndarray) -> np.ndarray:
        """Return x with (sum of weights + bound) x = weights x + own, row by row.

        weights  shape (places, networks), >= 0: inflow of a junction from another one, at the place of that pair
        bound    shape (junctions, networks), >= 0, other inflow; a junction needs some inflow
        own      shape (junctions, quantities, networks), >= 0, the same by quantity
        The weights are overwritten; x has the shape of `own`.
        """
        both = np.concatenate((own, bound[:, None]), axis=1)  # what bounds a junction spreads like a gas
        both[self.outside, :-1] /= both[self.outside, -1:]
        both[self.outside, -1] = 1.0
        np.add.at(both, self.into, weights[self.entering, None] * both[self.out_of])
        sums = []
        for step in self.steps:
            k, of = step.junctions, step.of
            mine = both[k]
            if not len(of):
                sums.append(mine[:, -1])
                continue
            inward = weights[step.inward]
            total = np.add.reduceat(inward, step.first, axis=0) + mine[:, -1]
            sums.append(total)
            share = weights[step.outward] / total[of]
            if len(step.changed):
                weights[step.changed] += share[step.by_share] * inward[step.by_weight]
            both[step.there] += share[:, None] * mine[of]
        found = both[:, :-1]
        for step, total in zip(reversed(self.steps), reversed(sums), strict=True):
            k = step.junctions
            if len(step.of):
                found[k] += np.add.reduceat(weights[step.inward, None] * found[step.there], step.first, axis=0)
            found[k] /= total[:, None]
        return found


def chosen(left: set[int], near: dict[int, set[int]]) -> list[int]:
    """Return junctions with few neighbours, none of which has a neighbour in common with another."""
    found, taken = [], set()
    fewest = min(len(near[k]) for k in left)
    for k in sorted(left, key=lambda junction: (len(near[junction]), junction)):
        if len(near[k]) > fewest + 1:
            break
        if k not in taken and taken.isdisjoint(near[k]):
            found.append(k)
            taken |= {k, *near[k]}
    return found
