"""The interface of a flow law: the flow between two pressures, with its slopes."""

from typing import NamedTuple, Protocol

from fleet.circuit.gases import Mix


class Flow(NamedTuple):
    """A flow from the first end of a branch to the second, with its slopes: m3/s, and m3/s per Pa."""

    value: float
    by_a: float  # slope with the pressure at the first end, never negative
    by_b: float  # slope with the pressure at the second end, never positive
    by_pilots: tuple[float, ...] = ()  # slope with each pilot pressure


class Law(Protocol):
    """The flow law of a branch.

    Pressures are Pa absolute, flows m3/s at 20 C and 101.325 kPa (so in proportion to moles), positive from a to b.
    `mix_a` and `mix_b` are the gas at either end; a law uses the upstream one. The flow is continuous and never falls
    as the pressure at a rises or the pressure at b falls.
    """

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow: ...
