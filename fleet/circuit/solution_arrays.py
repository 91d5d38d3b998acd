"""Pressures, mixtures and flows of a solution, read from the rows of the arrays in which they were solved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fleet.circuit.gases import SPECIES, Mix
from fleet.circuit.junctions import Topology
from fleet.circuit.solution import BranchFlow
from fleet.circuit.structure import Port
from fleet.late import np


@dataclass(frozen=True)
class Rest:
    """One network at rest: what remains of its rows.

    pressures       by junction, Pa absolute
    fractions       by junction and species, with uptake
    settled         the same without uptake: with these the pressures were solved
    flows           by branch, m3/s, with vapour added and without what was taken up
    shares          by branch and species, as the gas leaves it
    uptakes         the oxygen that each patient takes up, m3/s, by component code
    carbon_dioxide  the highest fraction of it that a patient breathes in
    traced          fractions of machine gas and of its oxygen in what the first patient breathes; None without one
    """

    topology: Topology
    pressures: np.ndarray
    fractions: np.ndarray
    settled: np.ndarray
    flows: np.ndarray
    shares: np.ndarray
    uptakes: Mapping[str, float]
    carbon_dioxide: float
    traced: tuple[float, float] | None
    passes: int
    imbalance: float


class AtPorts(Mapping):
    """A quantity of the junctions by port.

    also  further ports, each with the port that it is connected to
    """

    def __init__(self, rest: Rest, also: Mapping[Port, Port] | None = None):
        self.rest, self._also = rest, also or {}
        self._number = rest.topology.number
        if also:
            self._number = {**self._number, **{port: self._number[source] for port, source in also.items()}}

    def also_at(self, ends: Mapping[Port, Port]) -> AtPorts:
        """Return the same with further ports, each with the port that it is connected to."""
        return type(self)(self.rest, {**self._also, **ends})

    def __contains__(self, port) -> bool:
        return port in self._number

    def __iter__(self) -> Iterator[Port]:
        return iter(self._number)

    def __len__(self) -> int:
        return len(self._number)

    def get(self, port: Port, default=None):
        return self[port] if port in self._number else default


class PortPressures(AtPorts):
    """Pressure by port, Pa absolute."""

    def __init__(self, rest: Rest, also: Mapping[Port, Port] | None = None):
        super().__init__(rest, also)
        self._values = rest.pressures.tolist()

    def __getitem__(self, port: Port) -> float:
        return self._values[self._number[port]]

    def of_component(self, code: str) -> list[float]:
        """Return the pressures at the ports of a component."""
        numbers = self.rest.topology.junctions_of.get(code, ())
        more = [self._number[port] for port in self._also if port.component == code] if self._also else ()
        return [self._values[junction] for junction in (*numbers, *more)]


class PortMixes(AtPorts):
    """Mixture by port."""

    def __init__(self, rest: Rest, also: Mapping[Port, Port] | None = None):
        super().__init__(rest, also)
        self._made: dict[int, Mix] = {}

    def __getitem__(self, port: Port) -> Mix:
        junction = self._number[port]
        made = self._made.get(junction)
        if made is None:
            made = self._made[junction] = Mix(tuple(self.rest.fractions[junction].tolist()))
        return made


class BranchFlows(Mapping):
    """Flow by (component code, branch name), with what patients take up.

    uptakes  flows besides those of the branches, by key
    """

    def __init__(self, rest: Rest, uptakes: Mapping[tuple[str, str], BranchFlow]):
        self._rest, self._uptakes, self._made = rest, uptakes, dict(uptakes)
        self._values = rest.flows.tolist()

    def __getitem__(self, key: tuple[str, str]) -> BranchFlow:
        if key not in self._made:
            rest = self._rest
            k = rest.topology.index[key]
            mix = Mix(tuple(rest.shares[k].tolist()))
            self._made[key] = BranchFlow(*key, *rest.topology.between[k], self._values[k], mix)
        return self._made[key]

    def __contains__(self, key) -> bool:
        return key in self._rest.topology.index or key in self._uptakes

    def get(self, key: tuple[str, str], default=None):
        known = key in self._rest.topology.index or key in self._uptakes
        return self[key] if known else default

    def __iter__(self) -> Iterator[tuple[str, str]]:
        yield from self._rest.topology.keys
        yield from self._uptakes

    def __len__(self) -> int:
        return len(self._rest.topology.keys) + len(self._uptakes)

    def value(self, key: tuple[str, str]) -> float:
        """Return the flow through a branch, m3/s; 0 if there is no such branch."""
        k = self._rest.topology.index.get(key)
        return 0.0 if k is None else self._values[k]

    def ways(self, code: str) -> list[tuple[str, Port, Port, float]]:
        """Return name, ends and flow of each branch of a component."""
        topology = self._rest.topology
        numbers = (topology.index[key] for key in topology.of_component.get(code, ()))
        return [(topology.keys[k][1], *topology.between[k], self._values[k]) for k in numbers]

    def of_component(self, code: str) -> list[BranchFlow]:
        """Return the flows through the branches of a component."""
        return [self[key] for key in self._rest.topology.of_component.get(code, ())]

    def lost(self, ports: tuple[Port, ...]) -> Mapping[str, float]:
        """Return what leaves the circuit at these ports, by species."""
        rest = self._rest
        branches, outward = rest.topology.ways_out(ports)
        amounts = np.maximum(rest.flows[branches] * outward, 0.0) @ rest.shares[branches]
        return dict(zip(SPECIES, amounts.tolist(), strict=True))

    def drawn(self, port: Port, components: frozenset[str]) -> float:
        """Return what enters some components at a port."""
        rest = self._rest
        branches, outward = rest.topology.ways_out((port,), components)
        return float(np.maximum(-rest.flows[branches] * outward, 0.0).sum())

    def at_port(self, port: Port) -> list[BranchFlow]:
        """Return the flows through the branches that begin or end at a port."""
        return [self[key] for key in self._rest.topology.at_port(port)]
