"""Computes the gas composition at every junction from the flows and the supplied gases, in many networks at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.circuit.balance import Balance, Slopes, summed
from fleet.circuit.gases import HEAT_RATIOS, MOLAR_MASSES, ROOM_AIR, SPECIES
from fleet.circuit.junctions import Net
from fleet.circuit.laws.numbers import Gas
from fleet.late import np

NONE_M3_S = 1e-26  # anything less is rounding
# Share of room air in any gas. It makes the composition of a loop without inflow unique.
TRACE = 1e-18
SPECIES_AT = {species: index for index, species in enumerate(SPECIES)}


@dataclass(frozen=True)
class Spread:
    """Mixtures at the junctions of a batch.

    fractions  shape (networks, junctions, species)
    comes      shape (networks, junctions), inflow, m3/s
    breathed   shape (networks, junctions, breaths): for each branch through which a patient breathes, by m3/s of a gas
               that enters at its end, the fraction of that gas
    """

    fractions: np.ndarray
    comes: np.ndarray
    breathed: np.ndarray


@dataclass(frozen=True)
class Breath:
    """A branch through which a patient breathes: number in its network, and its junctions."""

    component: str
    place: int
    start: int
    end: int


class Mixing:
    """Mixtures of some networks. All have the same junctions, by name: those of one that another lacks are unused.

    junctions  for each network the number of each of its junctions here
    """

    def __init__(self, nets: Sequence[Net], balance: Balance):
        self.nets, self.balance, self.count = nets, balance, len(nets)
        self.junctions, self.elimination = balance.places.by_network, balance.places.elimination
        self.size = self.elimination.size
        self._place_branches()
        self.breaths = [self._breaths(n) for n in range(self.count)]
        self.most_breaths = max((len(breaths) for breaths in self.breaths), default=0)
        self.given = np.zeros((self.size, self.count, len(SPECIES)))
        self.is_given = np.ones((self.size, self.count), dtype=bool)
        for n, net in enumerate(nets):
            self.is_given[self.junctions[n][: net.free], n] = False
            self.given[self.junctions[n][net.free :], n] = [mix.fractions for _, mix in net.given]
        self._place_additions()

    def of(self, chosen: np.ndarray, balance: Balance) -> Mixing:
        """Return the mixing of some networks, by index, with their balance."""
        some = object.__new__(Mixing)
        some.nets, some.balance, some.count = [self.nets[n] for n in chosen], balance, len(chosen)
        some.junctions, some.breaths = balance.places.by_network, [self.breaths[n] for n in chosen]
        some.size, some.most_breaths, some.elimination = self.size, self.most_breaths, self.elimination
        some.given, some.is_given = self.given[:, chosen], self.is_given[:, chosen]
        some._place_branches()
        some._place_additions()
        return some

    def _place_branches(self):
        """Number the ends of the branches here, and the columns of the balance."""
        rows, self.columns = self.balance.rows, self.balance.places.junctions
        self.net, self.place = rows.net, rows.place
        self.start, self.end = self.columns[rows.net, rows.start], self.columns[rows.net, rows.end]
        self.first = np.concatenate(([0], np.cumsum([len(net.branches) for net in self.nets])))
        self.order = np.argsort(self.first[rows.net] + rows.place)  # of the branches here, network by network

    def _breaths(self, n: int) -> list[Breath]:
        net, numbers = self.nets[n], self.junctions[n]
        return [
            Breath(component, k, *numbers[net.topology.ends[k]].tolist())
            for k, (component, branch) in enumerate(net.branches)
            if branch.breathes
        ]

    def _place_additions(self):
        self.taken_up = self.by_branch([net.taken_up for net in self.nets])
        self.adding = np.flatnonzero(self.taken_up > 0)
        self.added = np.zeros((len(self.adding), len(SPECIES)))
        for row, k in zip(self.added, self.adding, strict=True):
            for species, share in self.nets[self.net[k]].branches[self.place[k]][1].adds:
                row[SPECIES_AT[species]] += share

    def by_branch(self, columns: Sequence[np.ndarray]) -> np.ndarray:
        """Return what each network says of its branches in the order of the branches here."""
        return np.concatenate(columns)[self.first[self.net] + self.place]

    def directed(self, values: np.ndarray, gain: np.ndarray):
        """Return for each branch the upstream junction, the downstream junction, and the flow that arrives there."""
        forward = values >= 0
        start, end = np.where(forward, self.start, self.end), np.where(forward, self.end, self.start)
        return start, end, np.abs(values) * np.where(forward, gain, 1.0)

    def spread(self, values: np.ndarray, gain: np.ndarray, slopes: Slopes) -> Spread:
        """Return the mixtures at all junctions.

        The flows must balance. A junction holds the mixture of its inflows. Without inflow it holds the gas of its
        neighbours, weighted by the conductance of the branches to them.
        """
        values = np.where(np.abs(values) < NONE_M3_S, 0.0, values)
        start, end, sent = self.directed(values, gain)
        taken = np.where(values > 0, self.taken_up, 0.0)
        comes = self.summed(end, sent)
        still_start, still_end = self._still_ones(comes, slopes)
        weights = (
            self.weighed(end, start, sent * (1 - taken), self.is_given)
            + self.weighed(self.start, self.end, still_start, self.is_given)
            + self.weighed(self.end, self.start, still_end, self.is_given)
        )
        inflow = self.summed(end, sent * (1 - taken)) + self.summed(self.start, still_start)
        trace = TRACE * (inflow + self.summed(self.end, still_end)) + NONE_M3_S
        own = np.zeros((self.size, len(SPECIES) + self.most_breaths, self.count))
        own[:, : len(SPECIES)] = trace[:, None] * np.array(ROOM_AIR.fractions)[:, None]
        self._add_vapour(own, end, sent, taken)
        self._add_breaths(own)
        bound = np.where(self.is_given, 1.0, trace + self.summed(end, sent * taken))
        np.copyto(own[:, : len(SPECIES)], self.given.transpose(0, 2, 1), where=self.is_given[:, None])
        found = self.elimination.solve(weights, bound, own).transpose(2, 0, 1)
        mixtures = found[..., : len(SPECIES)]
        total = mixtures.sum(axis=2, keepdims=True)
        total[total == 0] = 1.0  # a junction that this network lacks
        return Spread(mixtures / total, comes.T, found[..., len(SPECIES) :])

    def summed(self, junctions: np.ndarray, amounts: np.ndarray) -> np.ndarray:
        """Return the sum of amounts by junction, one amount for each branch: shape (junctions, networks)."""
        places = junctions * self.count + self.net
        return summed(places, amounts, self.size * self.count).reshape(self.size, self.count)

    def weighed(self, into: np.ndarray, out_of: np.ndarray, amounts: np.ndarray, is_given: np.ndarray) -> np.ndarray:
        """Return amounts by branch as weights of the elimination; what comes to a given junction counts for nothing."""
        places = self.elimination.table[into, out_of]
        counts = (places >= 0) & ~is_given[into, self.net]
        at = (places * self.count + self.net)[counts]
        size = self.elimination.count * self.count
        return summed(at, amounts[counts], size).reshape(self.elimination.count, self.count)

    def _still_ones(self, comes: np.ndarray, slopes: Slopes) -> tuple[np.ndarray, np.ndarray]:
        """Return by branch the weights with which a junction without inflow at a, and at b, holds the gas beyond."""
        opening = np.maximum(np.abs(slopes.by_a), np.abs(slopes.by_b)) + 1e-30
        still = comes <= 0
        return (
            np.where(still[self.start, self.net], opening, 0.0),
            np.where(still[self.end, self.net], opening, 0.0),
        )

    def _add_vapour(self, own: np.ndarray, end: np.ndarray, sent: np.ndarray, taken: np.ndarray) -> None:
        some = taken[self.adding] > 0
        arriving = self.adding[some]
        amounts = sent[arriving, None] * self.added[some]
        species = np.arange(len(SPECIES))
        np.add.at(own, (end[arriving, None], species, self.net[arriving, None]), amounts)

    def _add_breaths(self, own: np.ndarray) -> None:
        """Add for each breath 1 m3/s that enters at its end."""
        for n, breaths in enumerate(self.breaths):
            for column, breath in enumerate(breaths):
                if not self.is_given[breath.end, n]:
                    own[breath.end, len(SPECIES) + column, n] = 1.0

    def leaving(self, fractions: np.ndarray, values: np.ndarray) -> np.ndarray:
        """Return the mixture that leaves each branch, shape (branches, species)."""
        leaves = fractions[self.net, np.where(values >= 0, self.start, self.end)]
        taking = values[self.adding] > 0
        some = self.adding[taking]
        leaves[some] = leaves[some] * (1 - self.taken_up[some, None]) + self.added[taking]
        return leaves

    def gas(self, fractions: np.ndarray) -> Gas:
        """Return what the laws need of these mixtures, in the columns of the balance."""
        here = fractions[np.arange(self.count)[:, None], self.columns]
        return Gas(here @ np.array(MOLAR_MASSES), 1 + 1 / (here @ (1 / (np.array(HEAT_RATIOS) - 1))))
