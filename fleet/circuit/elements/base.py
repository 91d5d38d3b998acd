"""The interface of an element: a component in one condition, as branches for gas and given pressures.

An element is one class for one component kind. It converts a component, its settings, its failure if any, and whether
its protective action is removed, into branches and boundaries. The solver uses nothing else of it.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import ClassVar

from fleet.circuit.flow import Flow as Flow  # re-exported for the element modules
from fleet.circuit.flow import Law as Law
from fleet.circuit.gases import Mix
from fleet.circuit.state import Likelihood, Settings
from fleet.circuit.structure import STANDARD_PA_ABS, Component, Port

ROOM = Port("", "room")  # the theatre: ambient pressure, air
DISPOSAL = Port("", "disposal")  # destination of scavenged gas: ambient pressure; not breathed
STORE = Port("", "store")  # gas taken up by a swelling bag


@dataclass(frozen=True, slots=True)
class Branch:
    """One path through a component, between two of its ports (or an inner port, or ROOM, DISPOSAL, STORE).

    pilots  ports whose pressure controls the law
    adds    vapour that is added between a and b: (species, its fraction of the flow leaving at b)
    """

    name: str
    a: Port
    b: Port
    law: Law
    pilots: tuple[Port, ...] = ()
    adds: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Boundary:
    """A port with given pressure and gas: a wall outlet, a cylinder."""

    port: Port
    pressure_pa_abs: float
    mix: Mix


@dataclass(frozen=True, slots=True)
class Plumbing:
    branches: tuple[Branch, ...] = ()
    boundaries: tuple[Boundary, ...] = ()


@dataclass(frozen=True, slots=True)
class Condition:
    """The condition of one component: its settings, its failure, whether its protective action is removed."""

    settings: Settings = field(default_factory=lambda: MappingProxyType({}))
    failure: str = ""
    is_removed: bool = False
    ambient_pa_abs: float = STANDARD_PA_ABS


@dataclass(frozen=True, slots=True)
class Value:
    """A number that a law needs and few rating plates show: its default in SI, and the source of the default.

    dimension  what it measures, a key of fleet.circuit.units.UNITS_BY_DIMENSION, such as "pressure per flow"
    """

    default: float
    source: str
    basis: str
    dimension: str = ""


@dataclass(frozen=True, slots=True)
class Failure:
    """One failure mode: how often it occurs, and its effect in words."""

    likelihood: Likelihood
    words: str


@dataclass(frozen=True, slots=True)
class Told:
    """An alarm or reading at the machine. `feature` is the feature that alarms; empty for a gauge."""

    component: str
    feature: str
    words: str


class Element(ABC):
    """A component in one condition.

    kind      its component kind
    values    numbers it uses in addition to or instead of rated ones, by key, with their defaults
    settings  what can be set on it, by key, with the defaults
    options   choices by key; the first is the default. ("",) means codes of other components, separated by blanks
    failures  its failure modes
    protects  codes of the features that it provides, which `is_removed` removes
    unjoined  ports that may stay unconnected: gas leaves there into the room, or nothing passes
    """

    kind: ClassVar[str]
    values: ClassVar[Mapping[str, Value]] = MappingProxyType({})
    settings: ClassVar[Mapping[str, float | str]] = MappingProxyType({})
    options: ClassVar[Mapping[str, tuple[str, ...]]] = MappingProxyType({})
    failures: ClassVar[Mapping[str, Failure]] = MappingProxyType({})
    protects: ClassVar[tuple[str, ...]] = ()
    unjoined: ClassVar[frozenset[str]] = frozenset()

    def __init__(self, component: Component, condition: Condition):
        self.component = component
        self.condition = condition

    @abstractmethod
    def plumbing(self) -> Plumbing:
        """Return the branches and boundaries of the component in its condition."""

    def govern(self, settings: Mapping[str, Settings]) -> Mapping[str, Settings]:
        """Return the settings of all components, by component code, after the mechanical action of this one.

        Examples are a link between two spindles and a bar between two vaporizers. Other elements change nothing.
        """
        return settings

    def told(self, solution) -> tuple[Told, ...]:
        """Return the alarms and readings of this component in a solved state."""
        return ()

    def port(self, name: str) -> Port:
        """Return a port of this component; a name that the kind lacks is an inner port."""
        return Port(self.component.code, name)

    def value(self, key: str) -> float:
        """Return the component's value of that key, else the default of its element."""
        return self.component.values[key] if key in self.component.values else self.values[key].default

    def setting(self, key: str) -> float | str:
        """Return the setting of that key, else its default."""
        return self.condition.settings.get(key, self.settings[key])

    def option(self, key: str) -> str:
        """Return the option of that key, else its first choice."""
        return self.component.options.get(key, self.options[key][0])

    def has_failed(self, mode: str) -> bool:
        return self.condition.failure == mode

    def gauge_at(self, solution, name: str) -> float | None:
        """Return the pressure at a port of this component in a solved state, Pa gauge; None if it is not connected."""
        pressure = solution.pressures_pa_abs.get(self.port(name))
        return None if pressure is None else pressure - solution.circuit.ambient_pa_abs

    def mix_at(self, solution, name: str) -> Mix | None:
        """Return the gas at a port of this component in a solved state; None if it is not connected."""
        return solution.mixes.get(self.port(name))
