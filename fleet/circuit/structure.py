"""The data of a gas circuit: components, the connections between them, and the features that carry no gas."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any, NamedTuple

STANDARD_PA_ABS = 101_325.0


class Port(NamedTuple):
    """One port of one component."""

    component: str
    name: str

    def __str__(self):
        return f"{self.component}.{self.name}"


@dataclass(frozen=True, slots=True)
class Component:
    """One component of a circuit.

    code     unique in its circuit, a slug
    kind     code of a component kind of the catalogue
    gas      code of its gas; empty for mixed gas
    values   numbers by key, rated values of the kind and those that its element declares, in SI units: pressures in Pa
             gauge, flows in m3/s at 20 C and 101.325 kPa, fractions 0 to 1, s, K, m3
    options  choices by key, such as {"type": "proportional"}
    failed   the failure in which an inspection last found it, a failure mode of its element; empty if none
    sound_values  the values without those of failed results, where they differ; see fleet/circuit/as_found.py
    """

    code: str
    kind: str
    label: str
    gas: str = ""
    values: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    failed: str = ""
    sound_values: Mapping[str, float] | None = None

    def __str__(self):
        return self.label


@dataclass(frozen=True, slots=True)
class Connection:
    """A connection between two ports, by pipe or hose. Gas may flow either way; `source` is its ordinary origin.

    size  connector at the end of a hose, such as "22 mm" or "DISS 1240"; empty inside the machine
    """

    source: Port
    target: Port
    size: str = ""

    def __str__(self):
        return f"{self.source} to {self.target}"


@dataclass(frozen=True)
class Circuit:
    """The gas circuit of a machine.

    fittings        codes of fitted features that no component shows, such as a flush guard
    ambient_pa_abs  ambient pressure, Pa absolute
    """

    code: str
    title: str
    components: tuple[Component, ...]
    connections: tuple[Connection, ...]
    fittings: frozenset[str] = frozenset()
    ambient_pa_abs: float = STANDARD_PA_ABS

    def __str__(self):
        return self.title

    def component(self, code: str) -> Component:
        """Return the component of that code. Raises KeyError, which lists the codes."""
        for component in self.components:
            if component.code == code:
                return component
        raise KeyError(
            f"{self.title} has no component {code!r}. Accepted: {', '.join(p.code for p in self.components)}."
        )

    def of_kind(self, *kinds: str) -> tuple[Component, ...]:
        """Return the components of these kinds, in the order of the circuit."""
        found = self._of_kinds.get(kinds)
        if found is None:
            found = tuple(component for component in self.components if component.kind in kinds)
            self._of_kinds[kinds] = found
        return found

    def once(self, find: Callable[["Circuit"], Any]) -> Any:
        """Return what a function finds in this circuit, which it is asked for only once."""
        if find not in self._found:
            self._found[find] = find(self)
        return self._found[find]

    @cached_property
    def _found(self) -> dict[Callable, Any]:
        return {}

    @cached_property
    def _of_kinds(self) -> dict[tuple[str, ...], tuple[Component, ...]]:
        return {}
