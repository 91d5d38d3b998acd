"""Traces where the gas that the patient breathes came from, one solution at a time."""

from collections.abc import Mapping

import numpy as np

from fleet.circuit.elements.base import BODY, DISPOSAL, ROOM, STORE
from fleet.circuit.solution import BranchFlow, Solution
from fleet.circuit.structure import Port
from tests.fleet.circuit.oracle.composition import eliminated

NOTHING_M3_S = 1e-13


def trace(solution: Solution, junctions: Mapping[Port, int], patient: str) -> tuple[float, float]:
    """Return the fractions of machine gas, and of the machine's oxygen, in what a patient breathes."""
    flows = [flow for flow in solution.flows.values() if abs(flow.value_m3_s) > NOTHING_M3_S and flow.b != BODY]
    places, number = junctions, {}
    ways = np.array(
        [
            (*(number.setdefault(places[port], len(number)) for port in _direction(flow)), abs(flow.value_m3_s))
            for flow in flows
        ]
    ).reshape(-1, 3)
    oxygen = np.array([flow.mix.share("oxygen") for flow in flows])
    wanted = number.setdefault(places[Port(patient, "in")], len(number))
    outside = [number[places[port]] for port in (ROOM, DISPOSAL, STORE) if places[port] in number]
    return _traced(ways, oxygen, len(number), wanted, outside)


def _direction(flow: BranchFlow) -> tuple[Port, Port]:
    return (flow.a, flow.b) if flow.value_m3_s >= 0 else (flow.b, flow.a)


def _traced(ways, oxygen, size: int, wanted: int, outside: list[int]) -> tuple[float, float]:
    """Return the fraction of machine gas and of machine oxygen at a junction.

    ways  start, end and flow, row by row; `oxygen` the oxygen in each. No gas comes to a supply; `outside` is the room.
    """
    starts, ends, values = ways[:, 0].astype(int), ways[:, 1].astype(int), ways[:, 2]
    comes = np.bincount(ends, values, size)
    is_given = comes == 0
    is_given[outside] = True
    is_supply = is_given.copy()
    is_supply[[*outside, wanted]] = False
    weights = np.bincount(ends * size + starts, values, size * size).reshape(size, size)
    weights[is_given] = 0.0
    right = np.zeros((size, 2))
    from_supply = np.flatnonzero(is_supply[starts])
    right[starts[from_supply], 0], right[starts[from_supply], 1] = 1.0, oxygen[from_supply]
    bound = np.where(is_given, 1.0, comes * 1e-12)  # a loop without inflow holds no gas from the machine
    found = eliminated(weights, bound, right)[wanted]  # linear algebra loses seven digits in such loops
    return tuple(float(share) for share in np.clip(found, 0.0, 1.0))
