"""The patient's uptake of oxygen and output of carbon dioxide in solved circuits.

Pressures and flows are solved without them. Uptake is then traced along the flows like a gas of its own: where it comes
to, as much oxygen and as much flow is missing. So every gas balances at every junction with the uptake; pressures
are those without it, which changes them by less than a flow of 250 mL/min does. Carbon dioxide is traced alone and
is not counted in the flows: absorbent takes up what the patient gives off. Uptake of nitrous oxide and of vapours
is left out, which counts oxygen low.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.circuit.composition import SPECIES_AT, Mixing
from fleet.circuit.elements.base import Element
from fleet.late import np

OXYGEN = SPECIES_AT["oxygen"]
MOST_MISSING = 1 - 1e-6  # fraction of a flow that uptake may take, so that a mixture is left
STILL_M3_S = 1e-9  # 0.06 mL/min: less is no breath, and where its gas comes from depends on the leaks of shut valves
LOOP = 1e-12  # a loop without inflow holds carbon dioxide without limit
Bodies = Sequence[Mapping[str, Element]]  # for each network the elements of its patients, by component code


@dataclass(frozen=True)
class Metabolism:
    """What uptake leaves: mixtures at the junctions, flows by branch, and carbon dioxide in what is breathed in.

    fractions       shape (networks, junctions, species)
    flows, shares   outflow of each branch, m3/s, and its mixture, with the vapour added on the way
    uptakes         by network and component code, m3/s
    carbon_dioxide  shape (networks,)
    """

    fractions: np.ndarray
    flows: np.ndarray
    shares: np.ndarray
    uptakes: Sequence[Mapping[str, float]]
    carbon_dioxide: np.ndarray


def with_metabolism(mixing: Mixing, values, gain, fractions, breathed, bodies: Bodies) -> Metabolism:
    """Return mixtures and flows with the oxygen that every patient of the networks takes up.

    values, gain  by branch; fractions, breathed  as in Spread
    """
    breaths = breaths_of(mixing, values)
    missing, uptakes = np.zeros(fractions.shape[:2]), []
    for n, taking in enumerate(breaths):
        uptakes.append({})
        for column, (breath, value) in enumerate(taking):
            most = bodies[n][breath.component].value("oxygen_uptake")
            oxygen = fractions[n, :, OXYGEN]
            taken = 0.0
            if value >= STILL_M3_S and not mixing.is_given[breath.end, n]:
                taken, shares = uptake(breathed[n, :, column], oxygen, value, breath.start, most)
                missing[n] += shares
            uptakes[n][breath.component] = taken
    flows, shares = flows_left(mixing, values, gain, fractions, missing)
    found = rebreathed(mixing, values, gain, breaths, bodies)
    return Metabolism(mixtures_left(fractions, missing), flows, shares, uptakes, found)


def breaths_of(mixing: Mixing, values: np.ndarray) -> list[list]:
    """Return for each network its breaths, each with its flow."""
    at = mixing.order
    return [
        [(breath, float(values[at[mixing.first[n] + breath.place]])) for breath in breaths]
        for n, breaths in enumerate(mixing.breaths)
    ]


def uptake(spread: np.ndarray, oxygen: np.ndarray, breath: float, start: int, most: float):
    """Return the oxygen taken up, m3/s, and the fraction of the gas at each junction that it leaves missing.

    It is `most`, or all the oxygen that is breathed in if that is less. `spread` is where uptake comes to, and `oxygen`
    its fraction, by junction.
    """
    taken = min(most, breath * float(oxygen[start]) / (1 + breath * float(spread[start])))
    highest = float(spread.max(initial=0.0))
    if highest > 0:
        taken = min(taken, MOST_MISSING / highest)
    return taken, np.minimum(taken * spread, oxygen)


def mixtures_left(fractions: np.ndarray, missing: np.ndarray) -> np.ndarray:
    left = fractions.copy()
    left[..., OXYGEN] -= missing
    left[missing > 0] /= left[missing > 0].sum(axis=1, keepdims=True)
    return left


def flows_left(mixing: Mixing, values, gain, fractions, missing) -> tuple[np.ndarray, np.ndarray]:
    """Return outflow and mixture of each branch, with the vapour added on the way, without what was taken up before."""
    upstream = np.where(values >= 0, mixing.start, mixing.end)
    leaving = np.where(values > 0, values * gain, values)
    shares = mixing.leaving(fractions, values)
    gone = values * missing[mixing.net, upstream]
    some = np.flatnonzero(gone)
    amounts = shares[some] * leaving[some, None]
    amounts[:, OXYGEN] -= gone[some]
    leaving = leaving - gone
    flowing = np.abs(leaving[some]) > 0
    shares[some[flowing]] = amounts[flowing] / leaving[some[flowing], None]
    return leaving, shares


def rebreathed(mixing: Mixing, values, gain, breaths, bodies: Bodies) -> np.ndarray:
    """Return the highest fraction of carbon dioxide that a patient breathes in; absorbers clear what passes them."""
    highest = np.zeros(mixing.count)
    if not mixing.most_breaths:
        return highest
    own, asked = np.zeros((mixing.size, mixing.most_breaths, mixing.count)), []
    for n, taking in enumerate(breaths):
        for column, (breath, value) in enumerate(taking):
            if value >= STILL_M3_S and not mixing.is_given[[breath.start, breath.end], n].any():
                own[breath.end, column, n] = bodies[n][breath.component].value("carbon_dioxide")
                asked.append((breath.start, column, n))
    start, end, sent = mixing.directed(values, gain)
    clears = mixing.by_branch([net.clears for net in mixing.nets])
    comes = mixing.summed(end, sent)
    weights = mixing.weighed(end, start, np.where(clears, 0.0, sent), mixing.is_given)
    bound = mixing.summed(end, np.where(clears, sent, 0.0)) + comes * LOOP + 1e-26
    bound[mixing.is_given] = 1.0
    found = mixing.elimination.solve(weights, bound, own)
    for junction, column, n in asked:
        highest[n] = max(highest[n], float(found[junction, column, n]))
    return np.minimum(highest, 1.0)
