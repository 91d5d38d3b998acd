"""Gives each component of a circuit its condition in a state: its element with settings, failure and removed action."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cached_property
from types import MappingProxyType

from fleet.circuit.elements.base import Condition, Element
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Fault, Settings, State
from fleet.circuit.structure import Circuit, Component

Kinds = Mapping[str, type[Element]]
AS_BUILT: Settings = MappingProxyType({})


class Conditions:
    """The elements of a circuit in any condition, each made once.

    kinds  element classes by component kind
    """

    def __init__(self, circuit: Circuit, kinds: Kinds):
        self.circuit, self.kinds = circuit, kinds
        self.components = sorted(circuit.components, key=lambda component: component.code)
        self.by_code = {component.code: component for component in self.components}
        self.standing = {component.code: component.failed for component in circuit.components if component.failed}
        self._made: dict[tuple, Element] = {}
        self._whole: dict[tuple, tuple[Mapping[str, Settings], list[Element], Mapping[str, Settings]]] = {}
        self._settings: dict[int, tuple[Settings, frozenset]] = {}

    def elements(self, state: State, faults: Iterable[Fault], removed: frozenset[str]) -> list[Element]:
        """Return the element of each component in its condition, in order of component code.

        Mechanical links between components act first: they turn what was set by hand into the settings of all
        components. Raises NoSolution for a fault or a setting that the circuit has no place for.
        """
        failures = self._failures(faults)
        self._check(state.settings)
        for code in sorted(failures):
            whole = self._element(self.by_code[code], AS_BUILT, "", False)
            if failures[code] not in whole.failures:
                accepted = ", ".join(whole.failures) or "none"
                raise NoSolution(f"{whole.component.label} has no failure {failures[code]!r}. Accepted: {accepted}.")
        if any(code in self._governing for code in failures if failures[code] != self.standing.get(code)):
            return self._all(state.settings, failures, removed)[0]
        key = (id(state.settings), removed)
        if key not in self._whole:
            self._whole[key] = (state.settings, *self._all(state.settings, self.standing, removed))
        _, elements, settings = self._whole[key]
        elements = elements.copy()
        for code, failure in failures.items():
            elements[self._place[code]] = self._conditioned(self.by_code[code], settings, failure, removed)
        return elements

    def _all(
        self, asked: Mapping[str, Settings], failures: Mapping[str, str], removed: frozenset[str]
    ) -> tuple[list[Element], Mapping[str, Settings]]:
        """Return the elements with these failures, and the settings after the action of mechanical links."""
        settings = asked
        for code in self._governing:
            settings = self._conditioned(self.by_code[code], asked, failures.get(code, ""), removed).govern(settings)
        return [
            self._conditioned(one, settings, failures.get(one.code, ""), removed) for one in self.components
        ], settings

    def _conditioned(
        self, component: Component, settings: Mapping[str, Settings], failure: str, removed: frozenset[str]
    ) -> Element:
        code = component.code
        is_removed = code in self._protects and not removed.isdisjoint(self._protects[code])
        return self._element(component, settings.get(code, AS_BUILT), failure, is_removed)

    def _element(self, component: Component, settings: Settings, failure: str, is_removed: bool) -> Element:
        known = self._settings.get(id(settings))
        if known is None:
            known = self._settings[id(settings)] = (settings, frozenset(settings.items()))
        key = (component.code, failure, is_removed, known[1])
        found = self._made.get(key)
        if found is None:
            condition = Condition(settings, failure, is_removed, self.circuit.ambient_pa_abs)
            found = self._made[key] = self.kinds[component.kind](component, condition)
        return found

    @cached_property
    def _protects(self) -> dict[str, frozenset[str]]:
        """The features that each component provides, if any."""
        found = {one.code: self._element(one, AS_BUILT, "", False).protects for one in self.components}
        return {code: frozenset(features) for code, features in found.items() if features}

    @cached_property
    def _governing(self) -> list[str]:
        """The codes of the components that act on the settings of others."""
        return [one.code for one in self.components if self.kinds[one.kind].govern is not Element.govern]

    @cached_property
    def _place(self) -> dict[str, int]:
        return {component.code: place for place, component in enumerate(self.components)}

    def _failures(self, faults: Iterable[Fault]) -> dict[str, str]:
        """Return the failure of each failed component: the one asked for, else the one in which it was found."""
        failures: dict[str, str] = {}
        for fault in faults:
            if failures.setdefault(fault.component, fault.mode) != fault.mode:
                raise NoSolution(
                    f"{fault.component} cannot fail in two ways at once: {failures[fault.component]} and {fault.mode}."
                )
            if fault.component not in self.by_code:
                raise NoSolution(
                    f"{self.circuit} has no component {fault.component!r}, so it cannot have failed ({fault.mode})."
                )
        return {**self.standing, **failures}

    def _check(self, settings: Mapping[str, Settings]) -> None:
        if self._problem:
            raise NoSolution(self._problem)
        unknown = sorted(settings.keys() - self.by_code.keys())
        if unknown:
            raise NoSolution(
                f"{self.circuit} has no component {', '.join(unknown)}, for which the state has a setting."
            )
        if self._kindless:
            raise NoSolution(f"{self._kindless.label} is of kind {self._kindless.kind!r}, which has no flow law.")

    @cached_property
    def _kindless(self) -> Component | None:
        return next((component for component in self.components if component.kind not in self.kinds), None)

    @cached_property
    def _problem(self) -> str:
        counts = Counter(component.code for component in self.components)
        doubled = sorted(code for code, count in counts.items() if count > 1)
        return f"{self.circuit} has more than one component with the code {', '.join(doubled)}." if doubled else ""


def elements_of(
    circuit: Circuit, state: State, faults: Iterable[Fault], removed: frozenset[str], kinds: Kinds
) -> dict[str, Element]:
    """Return the element of each component in its condition, by component code; see Conditions."""
    elements = Conditions(circuit, kinds).elements(state, faults, removed)
    return {element.component.code: element for element in elements}
