"""Builds the networks of many states of one circuit; what they share is built once, and equal networks are one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from fleet.circuit.conditions import Conditions, Kinds
from fleet.circuit.elements.base import Element
from fleet.circuit.junctions import Connected, Installed, Net, Topology, assembled, topology_of
from fleet.circuit.solution import NoSolution
from fleet.circuit.solution_arrays import Rest
from fleet.circuit.stacking import LawBook
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit
from fleet.circuit.tube_order import OXYGEN_LAST, laid_out


class Built(NamedTuple):
    """The network of a state, with its elements in order of component code."""

    net: Net
    elements: list[Element]


class Workshop:
    """The networks of one circuit.

    kinds  element classes by component kind
    book   its laws; networks of several circuits that are solved together share one
    known  networks that were solved, with what came of it
    """

    def __init__(self, circuit: Circuit, kinds: Kinds, book: LawBook | None = None):
        self.circuit, self.kinds, self.book = circuit, kinds, book or LawBook()
        self.known: dict[int, Rest | NoSolution] = {}
        self._plans: dict[bool, Conditions] = {}
        self._installed: dict[int, Installed] = {}
        self._contents: dict[tuple, Installed] = {}
        self._connected: dict[tuple, Connected] = {}
        self._shapes: dict[tuple, int] = {}
        self._shape_of: dict[int, int] = {}
        self._topologies: dict[tuple, Topology] = {}
        self._nets: dict[tuple, Net] = {}

    def build(self, state: State, faults: Iterable[Fault], removed: frozenset[str]) -> Built:
        """Return the network of a state. Raises NoSolution for a state that the circuit cannot be in."""
        conditions = self._conditions(removed)
        elements = conditions.elements(state, faults, removed)
        installed = list(map(self._installed.get, map(id, elements)))
        if None in installed:
            installed = [self._install(element) for element in elements]
        connected, key = self._connections(conditions, state)
        numbers = tuple(map(id, installed))
        key = (*key, *map(self._shape_of.get, numbers))
        topology = self._topologies.get(key)
        if topology is None:
            topology = self._topologies[key] = topology_of(connected, installed)
        net = self._nets.get((id(topology), numbers))
        if net is None:
            net = assembled(topology, installed, self.circuit.ambient_pa_abs, self.book)
            self._nets[id(topology), numbers] = net
        return Built(net, elements)

    def _conditions(self, removed: frozenset[str]) -> Conditions:
        has_oxygen_first = OXYGEN_LAST in removed
        if has_oxygen_first not in self._plans:
            has_banks = "flow-bank" in self.kinds and self.kinds["flow-bank"].acts_elsewhere
            plan = laid_out(self.circuit, removed) if has_banks else self.circuit
            self._plans[has_oxygen_first] = Conditions(plan, self.kinds)
        return self._plans[has_oxygen_first]

    def _install(self, element: Element) -> Installed:
        """Return an element with its plumbing: one and the same for elements that differ only in what they tell."""
        one = self._installed.get(id(element))
        if one is None:
            made = Installed(element, self.book)
            one = self._installed[id(element)] = self._contents.setdefault(made.content, made)
            self._shape_of[id(one)] = self._shapes.setdefault(one.shape, len(self._shapes))
        return one

    def _connections(self, conditions: Conditions, state: State) -> tuple[Connected, tuple]:
        key = (id(conditions), state.cut, state.made)
        if key not in self._connected:
            connected = Connected(conditions.circuit, state)
            connected.check(conditions.circuit, conditions.by_code)
            self._connected[key] = connected
        return self._connected[key], key
