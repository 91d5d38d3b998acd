"""Computes the gas composition at every junction from the flows and the supplied gases."""

from __future__ import annotations

from fleet.circuit.gases import ROOM_AIR, SPECIES, Mix
from fleet.late import np
from tests.fleet.circuit.oracle.junctions import Net
from tests.fleet.circuit.oracle.pressures import Settled

NONE_M3_S = 1e-26  # anything less is rounding
# Share of room air in any gas. It makes the composition of a loop without inflow unique.
TRACE = 1e-18
SPECIES_AT = {species: index for index, species in enumerate(SPECIES)}


class Mixing:
    """Mixtures at the junctions of a net, as rows of mole fractions in the order of SPECIES."""

    def __init__(self, net: Net):
        self.net = net
        self.given = np.array([mix.fractions for _, mix in net.given])
        self.added = np.zeros((len(net.branches), len(SPECIES)))
        self.breaths = []
        for k, (component, branch) in enumerate(net.branches):
            for species, share in branch.adds:
                self.added[k, SPECIES_AT[species]] += share
            if branch.breathes:
                self.breaths.append((component, k))
        self.spread = np.zeros((net.size, len(self.breaths)))

    def fractions(self, settled: Settled) -> tuple[np.ndarray, np.ndarray]:
        """Return the mixture at each junction, shape (junctions, species), and the inflow there, m3/s.

        Sets `spread`: for each branch through which a patient breathes, by m3/s of a gas that enters at its end, the
        fraction of that gas at each junction.

        The flows must balance. A junction holds the mixture of its inflows. Without inflow it holds the gas of its
        neighbours, weighted by the conductance of the branches to them.
        """
        net, free, size = self.net, self.net.free, self.net.size
        values = np.where(np.abs(settled.values) < NONE_M3_S, 0.0, settled.values)
        start, end, sent = directed(net, values, settled.gain)
        taken = np.where(values > 0, net.taken_up, 0.0)
        comes = np.bincount(end, sent, size)
        weights = np.bincount(end * size + start, sent * (1 - taken), size * size).reshape(size, size)
        self._let_still_ones_share(weights, comes, settled)
        trace = TRACE * weights[:free].sum(axis=1) + NONE_M3_S
        own = trace[:, None] * np.array(ROOM_AIR.fractions)
        arriving = np.flatnonzero(taken * sent)
        np.add.at(own, end[arriving], (sent[:, None] * self.added)[arriving])
        own += weights[:free, free:] @ self.given
        bound = weights[:free, free:].sum(axis=1) + trace + np.bincount(end, sent * taken, size)[:free]
        found = eliminated(weights[:free, :free], bound, np.hstack((own, self._entering())))
        mixtures, self.spread[:free] = found[:, : len(SPECIES)], found[:, len(SPECIES) :]
        return np.vstack((mixtures / mixtures.sum(axis=1, keepdims=True), self.given)), comes

    def _entering(self) -> np.ndarray:
        """Return for each breath 1 m3/s that enters at its end, shape (free junctions, breaths)."""
        entering = np.zeros((self.net.size, len(self.breaths)))
        for column, (_, k) in enumerate(self.breaths):
            entering[self.net.ends[k, 1], column] = 1.0
        return entering[: self.net.free]

    def _let_still_ones_share(self, weights, comes, settled):
        """Give junctions without inflow the gas of their neighbours."""
        opening = np.maximum(np.abs(settled.slopes.by_a), np.abs(settled.slopes.by_b)) + 1e-30
        for junction in np.flatnonzero(comes[: self.net.free] <= 0):
            for k in np.flatnonzero((self.net.ends == junction).any(axis=1)):
                i, j = self.net.ends[k]
                weights[junction, j if i == junction else i] += opening[k]

    def leaving(self, fractions: np.ndarray, values: np.ndarray) -> np.ndarray:
        """Return the mixture that leaves each branch, shape (branches, species)."""
        upstream = np.where(values >= 0, self.net.ends[:, 0], self.net.ends[:, 1])
        leaves = fractions[upstream]
        taking = (values > 0) & (self.net.taken_up > 0)
        leaves[taking] = leaves[taking] * (1 - self.net.taken_up[taking, None]) + self.added[taking]
        return leaves


def eliminated(weights: np.ndarray, bound: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Return x with (sum of weights + bound) x = weights x + own, row by row.

    weights  shape (n, n), >= 0, inflow of each junction from each other one; the diagonal is ignored
    bound    shape (n,), > 0, other inflow; `own` shape (n, species), >= 0, the same by species

    Eliminates junctions one by one without any subtraction, so that a fraction is exact to its last digits even in a
    loop whose fresh inflow is 1e-12 of its flow. Source: from memory, Grassmann, Taksar and Heyman, Operations
    Research 1985; 33: 1107-1116.
    """
    n = len(bound)
    outer, own, sums = bound.tolist(), own.copy(), [0.0] * n
    rows: list[dict[int, float]] = [{} for _ in range(n)]  # by junction, the inflow from each other one
    fed: list[set[int]] = [set() for _ in range(n)]  # by junction, those that it flows to
    for i, j in np.argwhere(weights > 0).tolist():
        if i != j:
            rows[i][j] = float(weights[i, j])
            fed[j].add(i)
    for k in range(n - 1, -1, -1):
        row = rows[k]
        sums[k] = sum(row.values()) + outer[k]
        for i in fed[k]:
            share = rows[i].pop(k) / sums[k]
            for j, weight in row.items():
                if j != i:
                    rows[i][j] = rows[i].get(j, 0.0) + share * weight
                    fed[j].add(i)
            outer[i] += share * outer[k]
            own[i] += share * own[k]
        for j in row:
            fed[j].discard(k)
    x = np.empty_like(own)
    for k in range(n):
        x[k] = own[k]
        for j, weight in rows[k].items():
            x[k] += weight * x[j]
        x[k] /= sums[k]
    return x


def directed(net: Net, values: np.ndarray, gain: np.ndarray):
    """Return for each branch the upstream junction, the downstream junction, and the flow that arrives there."""
    forward = values >= 0
    start = np.where(forward, net.ends[:, 0], net.ends[:, 1])
    end = np.where(forward, net.ends[:, 1], net.ends[:, 0])
    return start, end, np.abs(values) * np.where(forward, gain, 1.0)


def as_mixes(fractions: np.ndarray, before: list[Mix] | None = None) -> list[Mix]:
    """Return a Mix for each row; reuses the previous one if unchanged, with its cached properties."""
    rows = [tuple(row) for row in fractions.tolist()]
    if before is None:
        return [Mix(row) for row in rows]
    return [old if old.fractions == row else Mix(row) for old, row in zip(before, rows, strict=True)]
