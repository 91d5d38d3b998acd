"""What matters of a solved circuit, looked at once: what reaches the patient, what comes from where, what is lost."""

from collections.abc import Mapping
from functools import cached_property

import numpy as np

from fleet.catalogue import AGENTS, COMPONENT_KINDS
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE
from fleet.circuit.gases import AIR, Mix
from fleet.circuit.junctions import Groups, joints_of
from fleet.circuit.limits import limit_si
from fleet.circuit.parts import STANDARD_PA_ABS, Part, Port
from fleet.circuit.places import breathing_parts, outlet_of, patient_of
from fleet.circuit.solution import BranchFlow, Solution
from fleet.circuit.table import Figures

NOTHING_M3_S = 1e-13
# Ports at which one gas alone belongs, on the kinds past which gas goes on to the patient.
GAS_OF_PORT = {"oxygen-in": "oxygen", "nitrous-oxide-in": "nitrous-oxide", "air-in": "air"}
JUDGED_FOR_GAS = ("flow-control", "flush-valve", "auxiliary-flowmeter", "electronic-mixer")


class Seen:
    """A solution as those look at it who ask what it does to the patient. Units as in Solution."""

    def __init__(self, solution: Solution):
        self.solution = solution
        self.circuit = solution.circuit
        self.patient = patient_of(solution.circuit)
        self.outlet = outlet_of(solution.circuit)

    @cached_property
    def leaving(self) -> tuple[tuple[float, Mix], ...]:
        """Flows of fresh gas from the machine, with their gas: at its outlet, else behind its controls."""
        if self.outlet:
            flows = [self.solution.flow(self.outlet.code)]
        else:
            codes = {p.code for p in self.circuit.of_kind("flow-control", "electronic-mixer", "flush-valve")}
            flows = [flow for flow in self.solution.flows.values() if flow.part in codes]
        return tuple((flow.value_m3_s, flow.mix) for flow in flows if flow.value_m3_s > 0)

    @cached_property
    def inspired(self) -> Mix | None:
        """The gas at the patient, or at the outlet of a circuit without breathing system."""
        if self.patient:
            return self.solution.mixes.get(Port(self.patient.code, "inspired")) or self._at(self.patient, "in")
        return self.leaving[0][1] if self.outlet and self.leaving else None

    def _at(self, part: Part, port: str) -> Mix | None:
        return self.solution.mixes.get(Port(part.code, port))

    @cached_property
    def dry_oxygen(self) -> float | None:
        """Oxygen in the inspired gas, vapour not counted."""
        if self.inspired is None:
            return None
        vapour = sum(self.inspired.agents.values())
        return self.inspired.share("oxygen") / (1 - vapour) if vapour < 1 else 0.0

    @cached_property
    def agents(self) -> Mapping[str, float]:
        return self.inspired.agents if self.inspired else {}

    @cached_property
    def mac(self) -> float:
        """Sum over the agents of partial pressure beside the least alveolar concentration at 101.325 kPa."""
        thinner = self.circuit.ambient_pa_abs / STANDARD_PA_ABS
        return sum(share * thinner / AGENTS[agent].mac for agent, share in self.agents.items())

    @cached_property
    def outlet_oxygen(self) -> float:
        return sum(value * mix.share("oxygen") for value, mix in self.leaving)

    @cached_property
    def fresh_gas(self) -> float:
        """Flow from the machine, as far as it reaches what the patient breathes."""
        return sum(value for value, _ in self.leaving) * self.reach

    @cached_property
    def fresh_oxygen(self) -> float:
        return self.outlet_oxygen * self.reach

    @cached_property
    def reach(self) -> float:
        """How much of the fresh gas reaches the patient: its share in what is breathed, none where nothing is."""
        if self.patient is None:
            return 1.0
        breath = self.solution.flows.get((self.patient.code, "through"))
        if breath is not None and abs(breath.value_m3_s) < limit_si("standing-flow"):
            return 0.0
        return self.machine_share

    @cached_property
    def fresh_agents(self) -> Mapping[str, float]:
        """Vapour in the gas that leaves the machine, as fractions of that gas."""
        total = sum(value for value, _ in self.leaving) or 1.0
        shares: dict[str, float] = {}
        for value, mix in self.leaving:
            for agent, share in mix.agents.items():
                shares[agent] = shares.get(agent, 0.0) + share * value / total
        return shares

    @cached_property
    def airway(self) -> tuple[float, float] | None:
        """Lowest and highest pressure at the patient, Pa gauge."""
        if self.patient is None:
            return None
        ports = [Port(self.patient.code, name) for name in ("in", "out", "inspired")]
        found = [self.solution.pressures_pa_abs[port] for port in ports if port in self.solution.pressures_pa_abs]
        return (min(found) - self.circuit.ambient_pa_abs, max(found) - self.circuit.ambient_pa_abs) if found else None

    @cached_property
    def room_share(self) -> float:
        return 1 - self.machine_share if self.patient else 0.0

    @cached_property
    def machine_share(self) -> float:
        """How much of what the patient breathes came from the supplies, not from the room: 0 to 1.

        Traced along the flows: a junction holds what comes to it. Where nothing comes a supply stands.
        """
        if self.patient is None:
            return 1.0
        groups = Groups()
        for joint in joints_of(self.circuit, self.solution.state):
            groups.join(joint.source, joint.target)
        flows = [flow for flow in self.solution.flows.values() if abs(flow.value_m3_s) > NOTHING_M3_S]
        ways = [(*(groups.find(port) for port in _direction(flow)), abs(flow.value_m3_s)) for flow in flows]
        return _traced(ways, groups.find(Port(self.patient.code, "in")))

    @cached_property
    def drawn_in(self) -> float:
        """Air that comes into the breathing system from the room, m3/s."""
        inside = breathing_parts(self.circuit)
        flows = (flow for flow in self.solution.flows.values() if flow.part in inside)
        return sum(abs(flow.value_m3_s) for flow in flows if _direction(flow)[0] == ROOM)

    @cached_property
    def foreign(self) -> tuple[tuple[Part, Port, float], ...]:
        """Parts at which a gas stands under pressure that does not belong there, with the port and its share."""
        found = []
        for part in self.circuit.of_kind(*JUDGED_FOR_GAS):
            for name, gas in _own_gases(part).items():
                port = Port(part.code, name)
                mix, pressure = self.solution.mixes.get(port), self.solution.pressures_pa_abs.get(port)
                if mix is None or pressure - self.circuit.ambient_pa_abs < limit_si("foreign-pressure"):
                    continue
                share = foreign_share(mix, gas)
                if share > limit_si("foreign-share"):
                    found.append((part, port, share))
        return tuple(found)

    @cached_property
    def drained(self) -> tuple[tuple[Part, float], ...]:
        """Yokes whose cylinder loses gas that nobody asks it for, with the flow: out is positive."""
        limit, found = limit_si("reserve-flow"), []
        for part in self.circuit.of_kind("cylinder-yoke"):
            flows = [flow for flow in self.solution.flows.values() if flow.part == part.code]
            lost = sum(abs(flow.value_m3_s) for flow in flows if ROOM in (flow.a, flow.b) or flow.value_m3_s < 0)
            given = sum(max(flow.value_m3_s, 0.0) for flow in flows if ROOM not in (flow.a, flow.b))
            lost += self._escaping(part.gas) if given > limit else 0.0
            if lost > limit:
                found.append((part, -lost))
            elif given > limit and self._has_pipeline(part.gas):
                found.append((part, given))
        return tuple(found)

    def _escaping(self, gas: str) -> float:
        """Return what leaves for the room by the open pipeline inlets of a gas."""
        inlets = {part.code for part in self.circuit.of_kind("pipeline-inlet") if part.gas == gas}
        flows = (flow for flow in self.solution.flows.values() if flow.part in inlets)
        return sum(abs(flow.value_m3_s) for flow in flows if _direction(flow)[1] == ROOM)

    def _has_pipeline(self, gas: str) -> bool:
        inlets = [part for part in self.circuit.of_kind("pipeline-inlet") if part.gas == gas]
        return any(self.supplied(part) for part in inlets)

    def supplied(self, inlet: Part) -> bool:
        """Return whether a wall outlet gives gas to this inlet, whatever gas it is."""
        settings = self.solution.state.of(inlet.code)
        return bool(settings.get("supply_gas", inlet.gas)) and settings.get("supply_pressure", 1.0) > 0

    def lost(self, species: str) -> float:
        """Return how much of a gas leaves for the room, a bag that gives way, or back into a pipeline, m3/s."""
        return sum(abs(flow.value_m3_s) * flow.mix.share(species) for flow in self._lost_flows)

    @cached_property
    def _lost_flows(self) -> list[BranchFlow]:
        walls = {part.code for part in self.circuit.of_kind("pipeline-inlet") if self.supplied(part)}
        return [
            flow
            for flow in self.solution.flows.values()
            if _direction(flow)[1] in (ROOM, STORE)
            or (flow.part in walls and flow.name == "through" and flow.value_m3_s < 0)
        ]

    @cached_property
    def lost_vapour(self) -> float:
        return sum(self.lost(agent) for agent in AGENTS)

    @cached_property
    def stands_still(self) -> bool:
        """Nothing comes to what the patient breathes: it is what was there before, and no mixture can be told."""
        return self.fresh_gas + self.drawn_in < limit_si("standing-flow")

    @cached_property
    def figures(self) -> Figures:
        known = self.inspired is not None and not self.stands_still
        return Figures(
            oxygen=self.inspired.share("oxygen") if known else None,
            agents=dict(self.agents) if known else {},
            fresh_gas_m3_s=self.fresh_gas,
            fresh_oxygen_m3_s=self.fresh_oxygen,
            airway_pa_gauge=None if self.airway is None else self.airway[1],
            room_m3_s=self.lost("nitrous-oxide") + self.lost_vapour,
        )


def foreign_share(mix: Mix, gas: str) -> float:
    """Return how much of a mixture is not the gas of that code; air is oxygen and nitrogen in its own ratio."""
    pure = AIR if gas == "air" else {gas: 1.0}
    return 1 - min(1.0, sum(min(mix.share(species), share) for species, share in pure.items()))


def _own_gases(part: Part) -> Mapping[str, str]:
    """Return the gas that belongs at each inlet of a part."""
    if part.gas:
        return {"in": part.gas}
    return {name: GAS_OF_PORT[name] for name in COMPONENT_KINDS[part.kind].ports if name in GAS_OF_PORT}


def _direction(flow: BranchFlow) -> tuple[Port, Port]:
    return (flow.a, flow.b) if flow.value_m3_s >= 0 else (flow.b, flow.a)


def _traced(ways: list[tuple[Port, Port, float]], wanted: Port) -> float:
    """Return the share of machine gas at a junction, from flows between junctions: (from, to, how much)."""
    places = sorted({place for start, end, _ in ways for place in (start, end)} | {wanted})
    number = {place: index for index, place in enumerate(places)}
    matrix, right = np.zeros((len(places), len(places))), np.zeros(len(places))
    for start, end, value in ways:
        matrix[number[end], number[end]] += value
        matrix[number[end], number[start]] -= value
    for place, index in number.items():
        if place in (ROOM, DISPOSAL, STORE) or matrix[index, index] == 0:
            matrix[index] = 0.0
            matrix[index, index] = 1.0
            right[index] = 0.0 if place in (ROOM, DISPOSAL, STORE) or place == wanted else 1.0
        else:
            matrix[index, index] *= 1 + 1e-12  # a loop that nothing comes to holds nothing of the machine
    scale = np.diag(matrix)
    return float(np.clip(np.linalg.solve(matrix / scale[:, None], right / scale)[number[wanted]], 0.0, 1.0))
