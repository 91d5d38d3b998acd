"""Finds the steady states of many networks at once: pressures and flows, then mixtures, in turn until both converge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.circuit.balance import balance_of, summed
from fleet.circuit.composition import Mixing
from fleet.circuit.gases import ROOM_AIR, SPECIES
from fleet.circuit.junctions import Net
from fleet.circuit.metabolism import with_metabolism
from fleet.circuit.pressures import settle
from fleet.circuit.solution import NoSolution
from fleet.circuit.solution_arrays import Rest
from fleet.circuit.tracing import traced
from fleet.late import np

PASSES = 60
SAME = 1e-9  # change of a mole fraction between passes below which mixtures have converged
# After this number of passes a larger change is accepted: the gas in a loop that only leaks through shut valves reach
# depends on the last digits of the pressures.
EXACT_PASSES, NEARLY_SAME = 12, 1e-6
TRICKLE_M3_S = 1e-11  # 0.6 uL/min: gas with less inflow may change more, in proportion; flows are not more accurate
FAINT_M3_S = 1e-15  # 6e-8 mL/min: the imbalance of junctions with smaller flows is divided by this


@dataclass
class Standing:
    """What a batch has come to, network by network; `failed` says why one has no steady state."""

    pressures: np.ndarray
    fractions: np.ndarray
    breathed: np.ndarray
    values: np.ndarray
    gain: np.ndarray
    passes: np.ndarray
    failed: dict[int, NoSolution]


def rest_of(nets: Sequence[Net], starts: Sequence[Rest | None], bodies, patients, ambient) -> list:
    """Return the Rest of each network, or why it has none.

    starts    a network at rest to start from, or None: room air everywhere
    bodies    for each network the elements of its patients, by component code
    patients  for each network the port at which its first patient breathes in, or None
    ambient   for each network the pressure of the room, Pa absolute
    """
    balance = balance_of(nets)
    mixing = Mixing(nets, balance)
    standing = stand_still(mixing, *beginning(mixing, starts, ambient))
    values, gain, fractions = standing.values, standing.gain, standing.fractions
    left = with_metabolism(mixing, values, gain, fractions, standing.breathed, bodies)
    shares = mixing.leaving(fractions, values)
    imbalances = imbalance(mixing, values, gain, shares)
    sources = traced(mixing, left.flows, left.shares, patients)
    found = []
    for n, net in enumerate(nets):
        if n in standing.failed:
            found.append(standing.failed[n])
            continue
        branches = mixing.order[mixing.first[n] : mixing.first[n + 1]]
        junctions = mixing.junctions[n]
        columns = np.r_[0 : net.free, balance.free : balance.free + net.size - net.free]
        found.append(
            Rest(
                topology=net.topology,
                pressures=standing.pressures[n, columns],
                fractions=left.fractions[n, junctions],
                settled=standing.fractions[n, junctions],
                flows=left.flows[branches],
                shares=left.shares[branches],
                uptakes=left.uptakes[n],
                carbon_dioxide=float(left.carbon_dioxide[n]),
                traced=sources[n],
                passes=int(standing.passes[n]),
                imbalance=float(imbalances[n]),
            )
        )
    return found


def beginning(mixing: Mixing, starts: Sequence[Rest | None], ambient: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    """Return pressures and mixtures to start from: those of another state by the names of junctions, else room air."""
    balance = mixing.balance
    pressures = np.repeat(balance.lowest_given()[:, None], balance.width, axis=1)
    pressures[:, balance.free :] = balance.given
    fractions = np.zeros((mixing.count, mixing.size, len(SPECIES)))
    fractions[:] = ROOM_AIR.fractions
    for n, (net, start) in enumerate(zip(mixing.nets, starts, strict=True)):
        free, junctions = net.free, mixing.junctions[n]
        if start is not None:
            number = start.topology.number
            same = np.array([number.get(port, -1) for port in net.topology.names[:free]], dtype=int)
            known = same >= 0
            pressures[n, :free] = np.where(known, start.pressures[same], ambient[n])
            fractions[n, junctions[:free][known]] = start.settled[same[known]]
    np.copyto(fractions, mixing.given.transpose(1, 0, 2), where=mixing.is_given.T[..., None])
    return pressures, fractions


def stand_still(mixing: Mixing, pressures: np.ndarray, fractions: np.ndarray) -> Standing:
    """Solve pressures and mixtures in turn until both converge."""
    count, branches = mixing.count, len(mixing.net)
    found = Standing(
        pressures.copy(), fractions.copy(), np.zeros((count, mixing.size, mixing.most_breaths)),
        np.zeros(branches), np.ones(branches), np.zeros(count, dtype=int), {},
    )  # fmt: skip
    active, at, before = np.arange(count), np.arange(branches), fractions
    for passes in range(1, PASSES + 1):
        settled = settle(mixing.balance, pressures, mixing.gas(fractions), mixing.nets)
        pressures = settled.pressures
        spread = mixing.spread(settled.values, settled.gain, settled.slopes)
        fractions = spread.fractions
        changes = np.abs(fractions - before).max(axis=2) * np.minimum(1.0, spread.comes / TRICKLE_M3_S)
        change = changes.max(axis=1)
        found.failed.update({int(active[n]): error for n, error in settled.failed.items()})
        rests = change <= (SAME if passes <= EXACT_PASSES else NEARLY_SAME)
        found.pressures[active], found.fractions[active], found.passes[active] = pressures, fractions, passes
        found.breathed[active], found.values[at], found.gain[at] = spread.breathed, settled.values, settled.gain
        rests[list(settled.failed)] = True
        if rests.all():
            return found
        if passes > PASSES // 3:
            fractions = (fractions + before) / 2
        before = fractions
        if rests.any():
            keep = np.flatnonzero(~rests)
            balance, kept, _ = mixing.balance.of(keep)
            mixing = mixing.of(keep, balance)
            active, at = active[keep], at[kept]
            pressures, fractions, before = pressures[keep], fractions[keep], before[keep]
    for n, net in enumerate(mixing.nets):
        junctions = mixing.junctions[n]
        worst = net.place(int(np.argmax(changes[keep][n, junctions] if rests.any() else changes[n, junctions])))
        found.failed[int(active[n])] = NoSolution(
            f"The gas at {worst} does not settle: it changes with the flows, and the flows change with it."
        )
    return found


def imbalance(mixing: Mixing, values: np.ndarray, gain: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Return for each network the largest sum of flows at a junction divided by the largest flow there.

    In total and for each gas, from the reported values: flow and mixture as they leave a branch, minus the vapour
    added on the way.
    """
    start, end, arrives = mixing.directed(values, gain)
    brought = arrives[:, None] * shares
    taken = brought.copy()
    adding = mixing.adding
    taken[adding] -= (arrives * (values > 0))[adding, None] * mixing.added
    sums = by_gas(mixing, end, brought) - by_gas(mixing, start, taken)
    largest = np.full((mixing.size, mixing.count), FAINT_M3_S)
    np.maximum.at(largest, (end, mixing.net), arrives)
    np.maximum.at(largest, (start, mixing.net), np.abs(values))
    worst = np.maximum(np.abs(sums).max(axis=2), np.abs(sums.sum(axis=2))) / largest
    return np.where(mixing.is_given, 0.0, worst).max(axis=0, initial=0.0)


def by_gas(mixing: Mixing, junctions: np.ndarray, amounts: np.ndarray) -> np.ndarray:
    """Return the sum of amounts by junction, network and species."""
    species = amounts.shape[1]
    places = (junctions * mixing.count + mixing.net)[:, None] * species + np.arange(species)
    size = mixing.size * mixing.count * species
    return summed(places.ravel(), amounts.ravel(), size).reshape(mixing.size, mixing.count, species)
