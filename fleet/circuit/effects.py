"""Evaluates a solved circuit: what reaches the patient, where it comes from, and what is lost."""

from collections.abc import Iterable, Mapping

from fleet.catalogue import AGENTS, COMPONENT_KINDS
from fleet.circuit.cover_rows import Figures
from fleet.circuit.elements.base import ROOM, STORE, Condition, Element, Told
from fleet.circuit.elements.breathing import Ventilator
from fleet.circuit.elements.monitors import is_ventilated
from fleet.circuit.gases import AIR, Mix
from fleet.circuit.hazard_limits import limit_si
from fleet.circuit.locations import breathing_components, outlet_of, patient_of, waste_components
from fleet.circuit.once import once
from fleet.circuit.solution import BranchFlow, Solution
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Component, Port

# Ports for a single gas, on the kinds from which gas flows on to the patient.
GAS_OF_PORT = {"oxygen-in": "oxygen", "nitrous-oxide-in": "nitrous-oxide", "air-in": "air"}
LOW_PRESSURE_KINDS = ("flow-bank", "vaporizer-rail", "vaporizer", "outlet")
JUDGED_FOR_GAS = ("flow-control", "flush-valve", "auxiliary-flowmeter", "electronic-mixer")


class Seen:
    """What a solution means for the patient: flows, pressures and composition. Units as in Solution."""

    def __init__(self, solution: Solution):
        self.solution = solution
        self.circuit = solution.circuit
        self.patient = patient_of(solution.circuit)
        self.outlet = outlet_of(solution.circuit)
        self.changed_from: dict[int, tuple[Solution, tuple[str, ...]]] = {}  # in words, by the state it differs from

    @once
    def leaving(self) -> tuple[tuple[float, Mix], ...]:
        """Flows of fresh gas from the machine, with their gas: at its outlet, else downstream of its controls."""
        if self.outlet:
            flows = [self.solution.flow(self.outlet.code)]
        else:
            codes = {p.code for p in self.circuit.of_kind("flow-control", "electronic-mixer", "flush-valve")}
            flows = [flow for code in sorted(codes) for flow in self.solution.flows_of(code)]
        return tuple((flow.value_m3_s, flow.mix) for flow in flows if flow.value_m3_s > 0)

    @once
    def inspired(self) -> Mix | None:
        """The gas at the patient, or at the outlet of a circuit without breathing system."""
        if self.patient:
            return self.solution.mixes.get(Port(self.patient.code, "inspired")) or self._at(self.patient, "in")
        return self.leaving[0][1] if self.outlet and self.leaving else None

    def _at(self, component: Component, port: str) -> Mix | None:
        return self.solution.mixes.get(Port(component.code, port))

    @once
    def dry_oxygen(self) -> float | None:
        """Oxygen in the inspired gas, vapour not counted."""
        if self.inspired is None:
            return None
        vapour = sum(self.inspired.agents.values())
        return self.inspired.share("oxygen") / (1 - vapour) if vapour < 1 else 0.0

    @once
    def agents(self) -> Mapping[str, float]:
        return self.inspired.agents if self.inspired else {}

    @once
    def mac(self) -> float:
        """Sum over the agents of partial pressure divided by that of 1 MAC at 101.325 kPa."""
        thinner = self.circuit.ambient_pa_abs / STANDARD_PA_ABS
        return sum(share * thinner / AGENTS[agent].mac for agent, share in self.agents.items())

    @once
    def outlet_oxygen(self) -> float:
        return sum(value * mix.share("oxygen") for value, mix in self.leaving)

    @once
    def fresh_gas(self) -> float:
        """Flow from the machine that reaches the patient."""
        return sum(value for value, _ in self.leaving) * self.reach

    @once
    def fresh_oxygen(self) -> float:
        """Oxygen from the supplies that reaches the patient, without the oxygen of room air."""
        if self.patient is None:
            return self.outlet_oxygen
        return sum(value for value, _ in self.leaving) * min(self.traced[1], self.reach)

    @once
    def reach(self) -> float:
        """Fraction of the fresh gas that reaches the patient; 0 if nothing does."""
        if self.patient is None:
            return 1.0
        breath = self.solution.flows.get((self.patient.code, "through"))
        if breath is not None and abs(breath.value_m3_s) < limit_si("standing-flow"):
            return 0.0
        return self.traced[0]

    @once
    def fresh_agents(self) -> Mapping[str, float]:
        """Vapour in the gas that leaves the machine, as fractions of that gas."""
        total = sum(value for value, _ in self.leaving) or 1.0
        shares: dict[str, float] = {}
        for value, mix in self.leaving:
            for agent, share in mix.agents.items():
                shares[agent] = shares.get(agent, 0.0) + share * value / total
        return shares

    @once
    def airway(self) -> tuple[float, float] | None:
        """Lowest and highest pressure at the patient, Pa gauge."""
        if self.patient is None:
            return None
        ports = [Port(self.patient.code, name) for name in ("in", "out", "inspired")]
        found = [self.solution.pressures_pa_abs[port] for port in ports if port in self.solution.pressures_pa_abs]
        return (min(found) - self.circuit.ambient_pa_abs, max(found) - self.circuit.ambient_pa_abs) if found else None

    @once
    def breath(self) -> float:
        """Gas that moves through the patient, m3/s."""
        flow = self.solution.flows.get((self.patient.code, "through")) if self.patient else None
        return abs(flow.value_m3_s) if flow else 0.0

    @once
    def idle_ventilators(self) -> tuple[Component, ...]:
        """Ventilators that are in use and do not run: off, stopped, or without drive gas."""
        if not is_ventilated(self.solution):
            return ()
        return tuple(component for component in self.circuit.of_kind("ventilator") if not self._runs(component))

    @once
    def torn_bellows(self) -> tuple[Component, ...]:
        """Ventilators in use whose bellows is torn."""
        failed = self.solution.failures
        ventilators = self.circuit.of_kind("ventilator") if is_ventilated(self.solution) else ()
        return tuple(component for component in ventilators if failed.get(component.code) == "torn bellows")

    def _runs(self, component: Component) -> bool:
        solution = self.solution
        condition = Condition(solution.state.of(component.code), solution.failures.get(component.code, ""))
        drive = solution.pressures_pa_abs.get(Port(component.code, "drive"))
        is_driven = drive is None or drive - self.circuit.ambient_pa_abs >= limit_si("lowest-drive")
        return is_driven and Ventilator(component, condition).is_running()

    @once
    def discs_up(self) -> tuple[Component, ...]:
        """One-way valves of the breathing system that let gas pass both ways."""
        inside, failed = breathing_components(self.circuit), self.solution.failures
        valves = (component for component in self.circuit.of_kind("one-way-valve") if component.code in inside)
        return tuple(component for component in valves if failed.get(component.code) == "stuck open")

    @once
    def room_share(self) -> float:
        return 1 - self.traced[0] if self.patient else 0.0

    @once
    def traced(self) -> tuple[float, float]:
        """Fractions of the breathed gas: what came from the supplies, not the room, and the supplies' oxygen in it.

        See fleet/circuit/tracing.py.
        """
        return self.solution.traced[self.patient.code]

    def _pressures_at(self, codes) -> list[float]:
        """Pressures at the ports of these components, Pa gauge; that of the room if there are none."""
        ambient = self.circuit.ambient_pa_abs
        return [pressure - ambient for code in codes for pressure in self.solution.pressures_of(code)] or [0.0]

    @once
    def is_sucked_flat(self) -> bool:
        """The extract draws more than its interface admits from the room, so it takes fresh gas."""
        return min(self._pressures_at(waste_components(self.circuit))) < limit_si("sucked-flat")

    @once
    def is_blown_up(self) -> bool:
        """Pressure in the breathing system or low-pressure section is higher than connections and seals hold."""
        low_pressure = [component.code for component in self.circuit.of_kind(*LOW_PRESSURE_KINDS)]
        highest = self.airway[1] if self.airway else 0.0
        return highest > limit_si("blown-up") or max(self._pressures_at(low_pressure)) > limit_si("seals-give-way")

    @once
    def is_fed_waste(self) -> bool:
        """Nitrous oxide or vapour is present at the outlet or at the patient."""
        ports = [Port(component.code, "in") for component in (self.outlet, self.patient) if component]
        mixes = [self.solution.mixes[port] for port in ports if port in self.solution.mixes]
        return any(mix.share("nitrous-oxide") > 0.01 or sum(mix.agents.values()) > 0.001 for mix in mixes)

    @once
    def drawn_in(self) -> float:
        """Air that enters the breathing system from the room, m3/s."""
        return self.solution.drawn_m3_s(ROOM, breathing_components(self.circuit))

    @once
    def foreign(self) -> tuple[tuple[Component, Port, float], ...]:
        """Components with a wrong gas under pressure, with the port and the gas's fraction."""
        found, pressures = [], self.solution.pressures_pa_abs
        lowest = self.circuit.ambient_pa_abs + limit_si("foreign-pressure")
        for component, port, gas in self.circuit.once(_judged_for_gas):
            if port in pressures and pressures[port] >= lowest:
                share = foreign_share(self.solution.mixes[port], gas)
                if share > limit_si("foreign-share"):
                    found.append((component, port, share))
        return tuple(found)

    @once
    def drained(self) -> tuple[tuple[Component, float], ...]:
        """Yokes whose cylinder loses gas unintentionally, with the flow: out is positive."""
        limit, found = limit_si("reserve-flow"), []
        for component in self.circuit.of_kind("cylinder-yoke"):
            ways = self.solution.ways_of(component.code)
            if sum([abs(value) for *_, value in ways]) <= limit:
                continue
            back = sum(-value for name, _, _, value in ways if name == "through" and value < 0)
            lost = max(back, sum(abs(value) for _, a, b, value in ways if ROOM in (a, b)))
            given = sum(max(value, 0.0) for _, a, b, value in ways if ROOM not in (a, b))
            lost += self._escaping(component.gas) if given > limit else 0.0
            if lost > limit:
                found.append((component, -lost))
            elif given > limit and self._has_pipeline(component.gas):
                found.append((component, given))
        return tuple(found)

    def _escaping(self, gas: str) -> float:
        """Return the flow into the room through the open pipeline inlets of a gas."""
        inlets = {component.code for component in self.circuit.of_kind("pipeline-inlet") if component.gas == gas}
        flows = (flow for flow in self.solution.flows_at(ROOM) if flow.component in inlets)
        return sum(abs(flow.value_m3_s) for flow in flows if _direction(flow)[1] == ROOM)

    def _has_pipeline(self, gas: str) -> bool:
        inlets = [component for component in self.circuit.of_kind("pipeline-inlet") if component.gas == gas]
        return any(self.supplied(component) for component in inlets)

    def supplied(self, inlet: Component) -> bool:
        """Return whether a wall outlet supplies any gas to this inlet."""
        settings = self.solution.state.of(inlet.code)
        return bool(settings.get("supply_gas", inlet.gas)) and settings.get("supply_pressure", 1.0) > 0

    def lost(self, species: str) -> float:
        """Return the flow of a gas into the room, a swelling bag, or back into a pipeline, m3/s."""
        return self._lost_gases.get(species, 0.0)

    @once
    def _lost_gases(self) -> dict[str, float]:
        """What is lost of each gas, m3/s."""
        found = dict(self.solution.lost_m3_s((ROOM, STORE)))
        for component in self.circuit.of_kind("pipeline-inlet"):
            if not self.supplied(component):
                continue
            value = self.solution.value_m3_s(component.code)
            if value < 0:
                for species, share in self.solution.flow(component.code).mix.shares.items():
                    found[species] += abs(value) * share
        return found

    @once
    def lost_vapour(self) -> float:
        return sum(self.lost(agent) for agent in AGENTS)

    @once
    def stands_still(self) -> bool:
        """The patient's gas is not renewed, so that its mixture is unknown."""
        return self.fresh_gas + self.drawn_in < limit_si("standing-flow")

    @once
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
    """Return the fraction of a mixture that is not the gas of that code; air is oxygen and nitrogen in one ratio."""
    pure = AIR if gas == "air" else {gas: 1.0}
    return 1 - min(1.0, sum(min(mix.share(species), share) for species, share in pure.items()))


def _judged_for_gas(circuit: Circuit) -> list[tuple[Component, Port, str]]:
    """Return each port that is for a single gas, with its component and that gas."""
    return [
        (component, Port(component.code, name), gas)
        for component in circuit.of_kind(*JUDGED_FOR_GAS)
        for name, gas in _own_gases(component).items()
    ]


def _own_gases(component: Component) -> Mapping[str, str]:
    """Return the proper gas of each inlet of a component."""
    if component.gas:
        return {"in": component.gas}
    return {name: GAS_OF_PORT[name] for name in COMPONENT_KINDS[component.kind].ports if name in GAS_OF_PORT}


def _direction(flow: BranchFlow) -> tuple[Port, Port]:
    return (flow.a, flow.b) if flow.value_m3_s >= 0 else (flow.b, flow.a)


def heard(elements: Iterable[Element], seen: Seen) -> tuple[Told, ...]:
    """Return the alarms and readings of these elements in a solved state.

    A monitor of gas in a breathing system without inflow has no reading: the smallest leaks would decide it.
    """
    solution = seen.solution
    stands_still = seen.patient is not None and seen.stands_still
    return tuple(
        told
        for element in elements
        if type(element).told is not Element.told
        for told in (element.told_standing_still(solution) if stands_still else element.told(solution))
    )
