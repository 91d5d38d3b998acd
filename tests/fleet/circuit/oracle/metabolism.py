"""The patient's uptake of oxygen and output of carbon dioxide in a solved circuit.

Pressures and flows are solved without them. Uptake is then traced along the flows like a gas of its own: where it comes
to, as much oxygen and as much flow is missing. So every gas balances at every junction with the uptake; pressures
are those without it, which changes them by less than a flow of 250 mL/min does. Carbon dioxide is traced alone and
is not counted in the flows: absorbent takes up what the patient gives off. Uptake of nitrous oxide and of vapours
is left out, which counts oxygen low.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.circuit.elements.base import BODY, Element
from fleet.circuit.gases import Mix
from fleet.circuit.solution import BranchFlow
from fleet.circuit.structure import Port
from fleet.late import np
from tests.fleet.circuit.oracle.composition import SPECIES_AT, Mixing, directed
from tests.fleet.circuit.oracle.junctions import Net
from tests.fleet.circuit.oracle.pressures import Settled

OXYGEN = SPECIES_AT["oxygen"]
MOST_MISSING = 1 - 1e-6  # fraction of a flow that uptake may take, so that a mixture is left
STILL_M3_S = 1e-9  # 0.06 mL/min: less is no breath, and where its gas comes from depends on the leaks of shut valves
LOOP = 1e-12  # a loop without inflow holds carbon dioxide without limit


@dataclass(frozen=True)
class Metabolism:
    """What uptake leaves: mixtures at the junctions, flows by branch, and carbon dioxide in what is breathed in."""

    fractions: np.ndarray
    flows: Mapping[tuple[str, str], BranchFlow]
    carbon_dioxide: float


def with_metabolism(
    net: Net, mixing: Mixing, settled: Settled, fractions: np.ndarray, elements: Mapping[str, Element]
) -> Metabolism:
    """Return mixtures and flows with the oxygen that every patient of the circuit takes up."""
    missing, taken = np.zeros(net.size), {}
    for column, (code, number) in enumerate(mixing.breaths):
        most = elements[code].value("oxygen_uptake")
        taken[code], shares = uptake(net, mixing.spread[:, column], settled, fractions, number, most)
        missing += shares
    flows = flows_left(net, mixing, settled, fractions, missing)
    for code, flow in taken.items():
        flows[code, "uptake"] = BranchFlow(code, "uptake", Port(code, "out"), BODY, flow, Mix.supply("oxygen"))
    return Metabolism(mixtures_left(fractions, missing), flows, rebreathed(net, mixing, settled, elements))


def uptake(net: Net, spread: np.ndarray, settled: Settled, fractions: np.ndarray, number: int, most: float):
    """Return the oxygen taken up, m3/s, and the fraction of the gas at each junction that it leaves missing.

    It is `most`, or all the oxygen that is breathed in if that is less. `spread` is where uptake comes to: see Mixing.
    """
    breath = float(settled.values[number])
    start, end = net.ends[number]
    if breath < STILL_M3_S or end >= net.free:
        return 0.0, np.zeros(net.size)
    breathed = breath * float(fractions[start, OXYGEN])
    taken = min(most, breathed / (1 + breath * float(spread[start])))
    highest = float(spread.max(initial=0.0))
    if highest > 0:
        taken = min(taken, MOST_MISSING / highest)
    return taken, np.minimum(taken * spread, fractions[:, OXYGEN])


def mixtures_left(fractions: np.ndarray, missing: np.ndarray) -> np.ndarray:
    if not missing.any():
        return fractions
    left = fractions.copy()
    left[:, OXYGEN] -= missing
    return left / left.sum(axis=1, keepdims=True)


def flows_left(net: Net, mixing: Mixing, settled: Settled, fractions, missing) -> dict[tuple[str, str], BranchFlow]:
    """Return the outflow of each branch, with the vapour added on the way and without what was taken up before."""
    values = settled.values
    upstream = np.where(values >= 0, net.ends[:, 0], net.ends[:, 1])
    leaving = np.where(values > 0, values * settled.gain, values)
    amounts = mixing.leaving(fractions, values) * leaving[:, None]
    gone = values * missing[upstream]
    amounts[:, OXYGEN] -= gone
    leaving = leaving - gone
    return {
        (component, branch.name): BranchFlow(component, branch.name, branch.a, branch.b, value, Mix(tuple(row)))
        for (component, branch), value, row in zip(
            net.branches, leaving.tolist(), _shares(mixing, fractions, values, amounts, leaving).tolist(), strict=True
        )
    }


def _shares(mixing: Mixing, fractions, values, amounts, leaving) -> np.ndarray:
    shares = mixing.leaving(fractions, values)
    flowing = np.abs(leaving) > 0
    shares[flowing] = amounts[flowing] / leaving[flowing, None]
    return shares


def rebreathed(net: Net, mixing: Mixing, settled: Settled, elements: Mapping[str, Element]) -> float:
    """Return the highest fraction of carbon dioxide that a patient breathes in; absorbers clear what passes them."""
    highest = 0.0
    for code, number in mixing.breaths:
        breath, (start, end) = float(settled.values[number]), net.ends[number]
        if breath >= STILL_M3_S and start < net.free and end < net.free:
            source = np.zeros(net.size)
            source[end] = elements[code].value("carbon_dioxide")
            highest = max(highest, float(_carbon_dioxide(net, settled, elements, source)[start]))
    return min(highest, 1.0)


def _carbon_dioxide(net: Net, settled: Settled, elements, source: np.ndarray) -> np.ndarray:
    """Return the fraction of carbon dioxide at each free junction, from the flows that bring it there."""
    start, end, sent = directed(net, settled.values, settled.gain)
    passes = np.array([not elements[code].clears_carbon_dioxide(branch) for code, branch in net.branches])
    size, free = net.size, net.free
    comes = np.bincount(end, sent, size)[:free]
    matrix = -np.bincount(end * size + start, sent * passes, size * size).reshape(size, size)[:free, :free]
    matrix[np.diag_indices(free)] += comes * (1 + LOOP) + 1e-26
    scale = matrix.diagonal().copy()
    return np.linalg.solve(matrix / scale[:, None], source[:free] / scale)
