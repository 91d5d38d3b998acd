"""Traces where the gas that the patient breathes came from: the supplies of the machine or the room."""

from __future__ import annotations

from collections.abc import Sequence

from fleet.circuit.composition import Mixing
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE
from fleet.circuit.metabolism import OXYGEN
from fleet.circuit.structure import Port
from fleet.late import np

NOTHING_M3_S = 1e-13
LOOP = 1e-12  # a loop without inflow holds no gas from the machine


def traced(
    mixing: Mixing, flows: np.ndarray, shares: np.ndarray, patients: Sequence[Port | None]
) -> list[tuple[float, float] | None]:
    """Return the fractions of machine gas, and of the machine's oxygen, at a port of each network; None without one.

    flows, shares  by branch, as in Metabolism
    Traced along the flows: a junction holds the mixture of its inflows, and one without inflow is a supply.
    """
    pairs = zip(patients, mixing.nets, strict=True)
    numbers = [None if port is None else net.topology.number.get(port) for port, net in pairs]
    wanted = [None if at is None else int(mixing.junctions[n][at]) for n, at in enumerate(numbers)]
    if all(at is None for at in wanted):
        return [None] * mixing.count
    sent = np.where(np.abs(flows) > NOTHING_M3_S, np.abs(flows), 0.0)
    start = np.where(flows >= 0, mixing.start, mixing.end)
    end = np.where(flows >= 0, mixing.end, mixing.start)
    comes = mixing.summed(end, sent)
    is_given = comes == 0
    is_supply = is_given.copy()
    for n, net in enumerate(mixing.nets):
        outside = mixing.junctions[n][[net.topology.number[port] for port in (ROOM, DISPOSAL, STORE)]]
        is_given[outside, n], is_supply[outside, n] = True, False
        if wanted[n] is not None:
            is_supply[wanted[n], n] = False
    own = np.zeros((mixing.size, 2, mixing.count))
    supplied = np.flatnonzero(is_supply[start, mixing.net] & (sent > 0))
    own[start[supplied], 0, mixing.net[supplied]] = 1.0
    own[start[supplied], 1, mixing.net[supplied]] = shares[supplied, OXYGEN]
    weights = mixing.weighed(end, start, sent, is_given)
    found = mixing.elimination.solve(weights, np.where(is_given, 1.0, comes * LOOP), own)
    return [None if at is None else tuple(np.clip(found[at, :, n], 0.0, 1.0).tolist()) for n, at in enumerate(wanted)]
