"""What a gas circuit is made of: parts, the pipes between them, and the protections that carry no gas."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

STANDARD_PA_ABS = 101_325.0


class Port(NamedTuple):
    """One gas connection of one part."""

    part: str
    name: str

    def __str__(self):
        return f"{self.part}.{self.name}"


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a circuit.

    code     unique in its circuit, a slug
    kind     code of a component kind of the catalogue
    gas      code of the gas that belongs in it; empty for mixed gas
    values   numbers by key, the rated ones of the kind and those its element declares, in SI units: pressures in Pa
             gauge, flows in m3/s at 20 C and 101.325 kPa, fractions 0 to 1, s, K, m3
    options  what is one of a few, by key, such as {"type": "proportional"}
    """

    code: str
    kind: str
    label: str
    gas: str = ""
    values: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def __str__(self):
        return self.label


@dataclass(frozen=True, slots=True)
class Joint:
    """A pipe or a hose between two ports. Gas may pass either way; `source` is where it ordinarily comes from.

    size  the connector at a hose's end, such as "22 mm" or "DISS 1240"; empty inside the machine
    """

    source: Port
    target: Port
    size: str = ""

    def __str__(self):
        return f"{self.source} to {self.target}"


@dataclass(frozen=True, slots=True)
class Circuit:
    """A machine's plumbing.

    fittings  codes of the features that are fitted though no part of the circuit shows them, such as a flush guard
    ambient_pa_abs  pressure of the room, Pa absolute
    """

    code: str
    title: str
    parts: tuple[Part, ...]
    joints: tuple[Joint, ...]
    fittings: frozenset[str] = frozenset()
    ambient_pa_abs: float = STANDARD_PA_ABS

    def __str__(self):
        return self.title

    def part(self, code: str) -> Part:
        """Return the part of that code. Raises KeyError, which lists the codes."""
        for part in self.parts:
            if part.code == code:
                return part
        raise KeyError(f"{self.title} has no part {code!r}. Accepted: {', '.join(p.code for p in self.parts)}.")

    def of_kind(self, *kinds: str) -> tuple[Part, ...]:
        """Return the parts of these kinds, in the order of the circuit."""
        return tuple(part for part in self.parts if part.kind in kinds)
