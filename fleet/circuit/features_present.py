"""Finds the safety features of a circuit: those that act on gas, those that alarm, those that prevent causes."""

from collections.abc import Iterable
from functools import cached_property
from types import MappingProxyType

from fleet.catalogue import FEATURES
from fleet.circuit.cover_rows import Cause
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition, Element, Plumbing
from fleet.circuit.locations import waste_connections
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit, Component

SCAVENGING_30 = "scavenging-30mm"
# A yoke or an inlet does not show whether its pins or its thread are intact: the fittings do.
NOT_BY_A_COMPONENT_ALONE = frozenset({"pin-index", "pipeline-gas-specific"})


class Protections:
    """The safety features of a circuit, by feature code. Unwanted features are left out."""

    def __init__(self, circuit: Circuit, ordinary: State):
        self.circuit, self.ordinary = circuit, ordinary

    @cached_property
    def present(self) -> frozenset[str]:
        """All of them."""
        components = {
            code for component in self.circuit.components for code in element_for(component, Condition()).protects
        }
        codes = (components - NOT_BY_A_COMPONENT_ALONE) | self.circuit.fittings
        for code, is_there in STRUCTURES.items():
            codes = codes | {code} if is_there(self.circuit) else codes - {code}
        return frozenset(code for code in codes if code in FEATURES and not FEATURES[code].is_unwanted)

    @cached_property
    def acting(self) -> tuple[str, ...]:
        """Those that act on gas, in order: without them a component has other branches, or sets other components."""
        codes = {code for component in self.circuit.components for code in self._acting_at(component)}
        return tuple(sorted(code for code in codes & self.present if FEATURES[code].can_stop))

    def components_with(self, code: str) -> tuple[str, ...]:
        """Return the codes of the components that provide a feature."""
        return self._providing.get(code, ())

    @cached_property
    def _providing(self) -> dict[str, tuple[str, ...]]:
        """The codes of the components that provide each feature."""
        found: dict[str, tuple[str, ...]] = {}
        for component in self.circuit.components:
            for code in element_for(component, Condition()).protects:
                found[code] = (*found.get(code, ()), component.code)
        return found

    def preventing(self, cause: Cause, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the features here that prevent a cause, without the removed ones."""
        there = (code for code in cause.prevented_by if code in self.present and code not in set(removed))
        return tuple(code for code in there if FEATURES[code].can_stop)

    def noticing(self, cause: Cause) -> tuple[str, ...]:
        """Return the features here by which a person may notice a cause."""
        return tuple(code for code in cause.noticed_by if code in self.present)

    def _acting_at(self, component: Component) -> tuple[str, ...]:
        whole = element_for(component, Condition())
        if not whole.protects:
            return ()
        acts = (
            whole.acts_elsewhere
            or type(whole).govern is not Element.govern
            or any(
                self._plumbing(component, mode, is_removed=False) != self._plumbing(component, mode, is_removed=True)
                for mode in ("", *whole.failures)
            )
        )
        return tuple(whole.protects) if acts else ()

    def _plumbing(self, component: Component, failure: str, *, is_removed: bool) -> Plumbing:
        settings = self.ordinary.of(component.code)
        return element_for(component, Condition(settings, failure, is_removed, self.circuit.ambient_pa_abs)).plumbing()


def has_oxygen_last(circuit: Circuit) -> bool:
    """Return whether oxygen enters the bank downstream of the other gases, at the port "out"."""
    oxygen = {
        component.code
        for component in circuit.components
        if component.gas == "oxygen" or component.kind == "ratio-protection"
    }
    banks = {component.code for component in circuit.of_kind("flow-bank")}
    connections = [
        connection
        for connection in circuit.connections
        if connection.target.component in banks and connection.source.component in oxygen
    ]
    return any(connection.target.name == "out" for connection in connections)


def has_30_mm_scavenging(circuit: Circuit) -> bool:
    """Return whether the waste gas connections are 30 mm, by their sizes, else by the fittings."""
    sizes = {connection.size for connection in waste_connections(circuit) if connection.size}
    return sizes <= {"30 mm", "19 mm"} if sizes else SCAVENGING_30 in circuit.fittings


def has_spill_valve_beside_bag(circuit: Circuit) -> bool:
    """Return whether every APL valve is on the bag side of a selector, which disconnects it together with the bag."""
    selectors = {component.code for component in circuit.of_kind("bag-vent-selector")}
    valves = {component.code for component in circuit.of_kind("apl-valve")}
    connections = [
        connection
        for connection in circuit.connections
        if connection.target.component in valves and connection.target.name == "in"
    ]
    return bool(connections) and all(j.source.component in selectors and j.source.name == "bag" for j in connections)


STRUCTURES = MappingProxyType(
    {
        SCAVENGING_30: has_30_mm_scavenging,
        "o2-last": has_oxygen_last,
        "apl-excluded": has_spill_valve_beside_bag,
    }
)
