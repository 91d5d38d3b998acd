"""States and faults: what is connected, open, dialled and pressed, and what has failed."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType

from fleet.circuit.structure import Connection

Settings = Mapping[str, float | str]


class Likelihood(StrEnum):
    """How often a cause occurs, in three coarse classes. Basis: common practice, no source."""

    COMMON = "common"
    OCCASIONAL = "occasional"
    RARE = "rare"


@dataclass(frozen=True, slots=True)
class State:
    """One way the machine is used.

    settings  by component code, what is set there by hand or by the hospital; each element names its keys and defaults
    cut       disconnected connections: each end is open to the room
    made      connections that the circuit does not have, for example a misconnected hose
    """

    code: str
    title: str
    settings: Mapping[str, Settings] = field(default_factory=lambda: MappingProxyType({}))
    cut: frozenset[Connection] = frozenset()
    made: tuple[Connection, ...] = ()

    def __str__(self):
        return self.title

    def of(self, component: str) -> Settings:
        """Return the settings of a component, an empty mapping if there are none."""
        return self.settings.get(component, {})

    def with_settings(self, component: str, **settings: float | str) -> "State":
        """Return the state with these settings of one component replaced."""
        return replace(self, settings={**self.settings, component: {**self.of(component), **settings}})


@dataclass(frozen=True, slots=True)
class Fault:
    """A component failed in one of the modes of its element, such as ("oxygen-regulator", "drifted high")."""

    component: str
    mode: str

    def __str__(self):
        return f"{self.component} {self.mode}"
