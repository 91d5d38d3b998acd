"""A solved circuit: pressure and gas at every port, flow through every branch."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from fleet.circuit.elements.base import ROOM, Told
from fleet.circuit.gases import Mix
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit, Port


class NoSolution(Exception):
    """No steady flow was found for a state; the message says where it fails and what to check."""


class BranchFlow(NamedTuple):
    """The flow through a branch: m3/s at 20 C and 101.325 kPa, positive from `a` to `b`, and its gas.

    `mix` is the gas as it leaves the branch: downstream of a vaporizer it includes the vapour.
    """

    component: str
    name: str
    a: Port
    b: Port
    value_m3_s: float
    mix: Mix


@dataclass(frozen=True, slots=True)
class Solution:
    """The steady state of a circuit, with the oxygen that the patient takes up (a flow named "uptake" to BODY).

    pressures_pa_abs  by port, Pa absolute
    mixes             by port
    flows             by (component code, branch name)
    passes            number of times that pressures and mixtures were solved in turn
    carbon_dioxide    fraction of it in what the patient breathes in
    traced            fractions of machine gas and of its oxygen in what a patient breathes, by component code
    rest              the arrays from which pressures, mixtures and flows are read
    imbalance         largest sum of flows at a junction divided by the largest flow, over all gases
    """

    circuit: Circuit
    state: State
    faults: tuple[Fault, ...]
    removed: frozenset[str]
    pressures_pa_abs: Mapping[Port, float]
    mixes: Mapping[Port, Mix]
    flows: Mapping[tuple[str, str], BranchFlow]
    passes: int
    imbalance: float
    told: tuple[Told, ...] = ()
    carbon_dioxide: float = 0.0
    traced: Mapping[str, tuple[float, float]] = field(default_factory=dict, compare=False, repr=False)
    rest: object = field(default=None, compare=False, repr=False)

    @property
    def failures(self) -> dict[str, str]:
        """The failure of each failed component, by its code."""
        standing = {component.code: component.failed for component in self.circuit.components if component.failed}
        return {**standing, **{fault.component: fault.mode for fault in self.faults}}

    def gauge(self, component: str, port: str) -> float:
        """Return the pressure at a port in Pa gauge."""
        return self.pressures_pa_abs[Port(component, port)] - self.circuit.ambient_pa_abs

    def mix(self, component: str, port: str) -> Mix:
        return self.mixes[Port(component, port)]

    def flow(self, component: str, name: str = "through") -> BranchFlow:
        return self.flows[component, name]

    def value_m3_s(self, component: str, name: str = "through") -> float:
        """Return the flow through a branch, m3/s; 0 if the component has no such branch in this state."""
        return self.flows.value((component, name))

    def ways_of(self, component: str) -> list[tuple[str, Port, Port, float]]:
        """Return name, ends and flow, m3/s, of each branch of a component."""
        return self.flows.ways(component)

    def flows_of(self, component: str) -> list[BranchFlow]:
        """Return the flows through the branches of a component."""
        return self.flows.of_component(component)

    def flows_at(self, port: Port) -> list[BranchFlow]:
        """Return the flows through the branches that begin or end at a port, such as ROOM."""
        return self.flows.at_port(port)

    def lost_m3_s(self, ports: tuple[Port, ...]) -> Mapping[str, float]:
        """Return what leaves the circuit at these ports, m3/s, by species."""
        return self.flows.lost(ports)

    def drawn_m3_s(self, port: Port, components: frozenset[str]) -> float:
        """Return what enters some components at a port, such as air from ROOM, m3/s."""
        return self.flows.drawn(port, components)

    def pressures_of(self, component: str) -> list[float]:
        """Return the pressures at the ports of a component, Pa absolute."""
        return self.pressures_pa_abs.of_component(component)

    def into_room_m3_s(self, species: str) -> float:
        """Return the flow of a gas or vapour into the room, m3/s."""
        return sum(
            abs(flow.value_m3_s) * flow.mix.share(species)
            for flow in self.flows.values()
            if (flow.b if flow.value_m3_s > 0 else flow.a) == ROOM
        )
