"""What is connected, open, dialled and pressed, and what has failed."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType

from fleet.circuit.structure import Joint

Settings = Mapping[str, float | str]


class Likelihood(StrEnum):
    """How often a cause is met, in three coarse classes. Basis: common practice, no source."""

    COMMON = "common"
    OCCASIONAL = "occasional"
    RARE = "rare"


@dataclass(frozen=True, slots=True)
class State:
    """One way the machine is used.

    settings  by part code, what the hand or the hospital sets there; each element names its keys and defaults
    cut       joints that are apart: each end is then open to the room
    made      joints that are there beside those of the circuit, as when a hose is on the wrong place
    """

    code: str
    title: str
    settings: Mapping[str, Settings] = field(default_factory=lambda: MappingProxyType({}))
    cut: frozenset[Joint] = frozenset()
    made: tuple[Joint, ...] = ()

    def __str__(self):
        return self.title

    def of(self, part: str) -> Settings:
        """Return what is set at a part, an empty mapping where nothing is."""
        return self.settings.get(part, {})

    def with_settings(self, part: str, **settings: float | str) -> "State":
        """Return the state with these settings of one part in place of what they were."""
        return replace(self, settings={**self.settings, part: {**self.of(part), **settings}})


@dataclass(frozen=True, slots=True)
class Fault:
    """A part that has failed in one of the ways of its element, such as ("oxygen-regulator", "drifted high")."""

    part: str
    mode: str

    def __str__(self):
        return f"{self.part} {self.mode}"
