"""Valves that open by pressure: check valves and relief valves."""

from dataclasses import dataclass

from fleet.circuit.flow import Flow, Stackable
from fleet.circuit.gases import Mix
from fleet.circuit.laws.plain import FLOOR_M3_S_PA, Resistance
from fleet.circuit.laws.ramps import ramp


@dataclass(frozen=True, slots=True)
class OneWay(Stackable):
    """Passes gas from a to b once a is `opens_at` Pa above b; in the other direction only its back leak.

    way        the resistance above the cracking pressure
    leak       back leak, m3/s per Pa, in both directions
    corner_pa  pressure range over which it opens, > 0

    A relief valve is one whose cracking pressure is its setting.
    """

    way: Resistance
    opens_at: float = 0.0
    leak: float = FLOOR_M3_S_PA
    corner_pa: float = 2.0

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        over, rounding = ramp(a - b - self.opens_at, self.corner_pa)
        value, slope = self.way.by_drop(over, mix_a)
        slope = slope * rounding + self.leak
        return Flow(value + self.leak * (a - b), slope, -slope)
