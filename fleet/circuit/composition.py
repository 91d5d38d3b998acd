"""What the gas is made of at every junction, from the flows and the gas that is given."""

import numpy as np

from fleet.circuit.gases import ROOM_AIR, SPECIES, Mix
from fleet.circuit.junctions import Net
from fleet.circuit.pressures import Settled

NONE_M3_S = 1e-26  # what is less is rounding
TRACE = 1e-13  # share of room air that finds its way into any gas; settles what a closed loop is filled with
SPECIES_AT = {species: index for index, species in enumerate(SPECIES)}


class Mixing:
    """Mixtures at the junctions of a net, as rows of mole fractions in the order of SPECIES."""

    def __init__(self, net: Net):
        self.net = net
        self.given = np.array([mix.fractions for _, mix in net.given])
        self.added = np.zeros((len(net.branches), len(SPECIES)))
        for k, (_, branch) in enumerate(net.branches):
            for species, share in branch.adds:
                self.added[k, SPECIES_AT[species]] += share

    def fractions(self, settled: Settled) -> np.ndarray:
        """Return the mixture at each junction, shape (junctions, species), for flows that balance.

        One linear system: what comes to a junction from its neighbours is what it is made of. Where nothing flows the
        gas is that of the neighbours, weighted by how open the ways to them are.
        """
        net, free = self.net, self.net.free
        values = np.where(np.abs(settled.values) < NONE_M3_S, 0.0, settled.values)
        start, end, sent = directed(net, values, settled.gain)
        clean = np.where(values > 0, 1 - net.taken_up, 1.0)
        matrix, source = np.zeros((net.size, net.size)), np.zeros((net.size, len(SPECIES)))
        comes = np.bincount(end, sent, net.size)
        np.add.at(matrix, (end, start), -sent * clean)
        np.add.at(source, end, (sent * (values > 0))[:, None] * self.added)
        self._still(matrix, comes, settled)
        trace = TRACE * comes
        matrix[np.diag_indices(net.size)] += comes + trace
        source += trace[:, None] * np.array(ROOM_AIR.fractions)
        source -= matrix[:, free:] @ self.given
        scale = np.where(comes > 0, comes, 1.0)[:free]
        found = np.linalg.solve(matrix[:free, :free] / scale[:, None], source[:free] / scale[:, None])
        found = np.clip(found, 0.0, None)
        return np.vstack((found / found.sum(axis=1, keepdims=True), self.given))

    def _still(self, matrix, comes, settled):
        """Let junctions that nothing flows to have the gas of their neighbours."""
        opening = np.maximum(np.abs(settled.slopes.by_a), np.abs(settled.slopes.by_b)) + 1e-30
        still = comes[: self.net.free] <= 0
        for junction in np.flatnonzero(still):
            for k in np.flatnonzero((self.net.ends == junction).any(axis=1)):
                i, j = self.net.ends[k]
                matrix[junction, j if i == junction else i] -= opening[k]
                comes[junction] += opening[k]

    def leaving(self, fractions: np.ndarray, values: np.ndarray) -> np.ndarray:
        """Return the mixture that leaves each branch, shape (branches, species)."""
        upstream = np.where(values >= 0, self.net.ends[:, 0], self.net.ends[:, 1])
        leaves = fractions[upstream]
        taking = (values > 0) & (self.net.taken_up > 0)
        leaves[taking] = leaves[taking] * (1 - self.net.taken_up[taking, None]) + self.added[taking]
        return leaves


def directed(net: Net, values: np.ndarray, gain: np.ndarray):
    """Return for each branch the junction gas comes from, the one it goes to, and how much arrives there."""
    forward = values >= 0
    start = np.where(forward, net.ends[:, 0], net.ends[:, 1])
    end = np.where(forward, net.ends[:, 1], net.ends[:, 0])
    return start, end, np.abs(values) * np.where(forward, gain, 1.0)


def as_mixes(fractions: np.ndarray, before: list[Mix] | None = None) -> list[Mix]:
    """Return a Mix for each row; the one from before where nothing changed, which keeps what it has worked out."""
    rows = [tuple(row) for row in fractions.tolist()]
    if before is None:
        return [Mix(row) for row in rows]
    return [old if old.fractions == row else Mix(row) for old, row in zip(before, rows, strict=True)]
