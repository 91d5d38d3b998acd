"""The contract of an element: a part in one condition, as branches that gas may take and pressures that are given.

An element is one class for one component kind. It turns a part, its settings, its failure if it has one, and whether
its protective action is taken away, into branches and boundaries. The solver knows nothing else of it.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import ClassVar

from fleet.circuit.flow import Flow as Flow  # others take it from the contract
from fleet.circuit.flow import Law as Law
from fleet.circuit.gases import Mix
from fleet.circuit.state import Likelihood, Settings
from fleet.circuit.structure import STANDARD_PA_ABS, Part, Port

ROOM = Port("", "room")  # the theatre: ambient pressure, air
DISPOSAL = Port("", "disposal")  # where scavenged gas goes: ambient pressure; nobody breathes it
STORE = Port("", "store")  # what a swelling bag takes up


@dataclass(frozen=True, slots=True)
class Branch:
    """One way through a part, between two of its ports (or an inner port of its own, or ROOM, DISPOSAL, STORE).

    pilots  ports whose pressure steers the law
    adds    vapour that the gas takes up on its way from a to b: (species, its fraction of what leaves at b)
    """

    name: str
    a: Port
    b: Port
    law: Law
    pilots: tuple[Port, ...] = ()
    adds: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Boundary:
    """A port at which pressure and gas are given: a wall outlet, a cylinder."""

    port: Port
    pressure_pa_abs: float
    mix: Mix


@dataclass(frozen=True, slots=True)
class Plumbing:
    branches: tuple[Branch, ...] = ()
    boundaries: tuple[Boundary, ...] = ()


@dataclass(frozen=True, slots=True)
class Condition:
    """The condition of one part: what is set, what has failed, whether its protective action is taken away."""

    settings: Settings = field(default_factory=lambda: MappingProxyType({}))
    failure: str = ""
    is_removed: bool = False
    ambient_pa_abs: float = STANDARD_PA_ABS


@dataclass(frozen=True, slots=True)
class Value:
    """A number that a law needs and that few plates show: its default, SI, and where that comes from.

    dimension  what it measures, a key of fleet.circuit.units.UNITS_BY_DIMENSION, such as "pressure per flow"
    """

    default: float
    source: str
    basis: str
    dimension: str = ""


@dataclass(frozen=True, slots=True)
class Failure:
    """One way to fail: how often, and in words what happens."""

    likelihood: Likelihood
    words: str


@dataclass(frozen=True, slots=True)
class Told:
    """What somebody at the machine would see or hear. `feature` is the protection that tells; empty for a gauge."""

    part: str
    feature: str
    words: str


class Element(ABC):
    """A part in one condition.

    kind      the component kind it stands for
    values    numbers it uses beside or instead of rated ones, by key, with their defaults
    settings  what can be set on it, by key, with what holds while nothing is set
    options   what is one of a few, by key; the first is the default. ("",) stands for codes of other parts, parted by
              blanks
    failures  its ways to fail, by mode
    protects  codes of the features whose work it does, which `is_removed` takes away
    unjoined  ports that may stay unjoined: gas leaves there for the room, or nothing passes
    """

    kind: ClassVar[str]
    values: ClassVar[Mapping[str, Value]] = MappingProxyType({})
    settings: ClassVar[Mapping[str, float | str]] = MappingProxyType({})
    options: ClassVar[Mapping[str, tuple[str, ...]]] = MappingProxyType({})
    failures: ClassVar[Mapping[str, Failure]] = MappingProxyType({})
    protects: ClassVar[tuple[str, ...]] = ()
    unjoined: ClassVar[frozenset[str]] = frozenset()

    def __init__(self, part: Part, condition: Condition):
        self.part = part
        self.condition = condition

    @abstractmethod
    def plumbing(self) -> Plumbing:
        """Return the branches and boundaries of the part in its condition."""

    def govern(self, settings: Mapping[str, Settings]) -> Mapping[str, Settings]:
        """Return what is set on all parts, by part code, after this part's mechanical action on others.

        A link between two spindles, a bar between two vaporizers. Others return what they got.
        """
        return settings

    def told(self, solution) -> tuple[Told, ...]:
        """Return what this part tells whoever stands at the machine in a solved state."""
        return ()

    def port(self, name: str) -> Port:
        """Return a port of this part; a name that the kind lacks is an inner port."""
        return Port(self.part.code, name)

    def value(self, key: str) -> float:
        """Return the part's value of that key, else the default of its element."""
        return self.part.values[key] if key in self.part.values else self.values[key].default

    def setting(self, key: str) -> float | str:
        """Return what is set under that key, else what holds while nothing is set."""
        return self.condition.settings.get(key, self.settings[key])

    def option(self, key: str) -> str:
        """Return which of a few it is, else the first of them."""
        return self.part.options.get(key, self.options[key][0])

    def has_failed(self, mode: str) -> bool:
        return self.condition.failure == mode

    def gauge_at(self, solution, name: str) -> float | None:
        """Return the pressure at a port of this part in a solved state, Pa gauge; None where nothing is joined."""
        pressure = solution.pressures_pa_abs.get(self.port(name))
        return None if pressure is None else pressure - solution.circuit.ambient_pa_abs

    def mix_at(self, solution, name: str) -> Mix | None:
        """Return the gas at a port of this part in a solved state; None where nothing is joined."""
        return solution.mixes.get(self.port(name))
