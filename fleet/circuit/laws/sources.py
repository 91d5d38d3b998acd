"""Branches that drive gas: an extract, and breathing."""

from dataclasses import dataclass

from fleet.circuit.flow import Flow, Stackable
from fleet.circuit.gases import Mix
from fleet.circuit.laws.plain import FLOOR_M3_S_PA, Resistance
from fleet.circuit.laws.ramps import lift, ramp

CORNER = 0.02  # range over which a source reaches its full flow, as a fraction of its suction
ROUNDED_PA = 2.0  # range over which the flow from a falling pressure sets in, so that its slope is continuous


@dataclass(frozen=True, slots=True)
class Drawing(Stackable):
    """An extract that draws `flow_m3_s` from a while a is not below b, about zero once a is `suction_pa` below."""

    flow_m3_s: float
    suction_pa: float

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = lift((a - b + self.suction_pa) / self.suction_pa + CORNER, CORNER)
        slope = self.flow_m3_s * slope / self.suction_pa + FLOOR_M3_S_PA
        return Flow(self.flow_m3_s * share + FLOOR_M3_S_PA * (a - b), slope, -slope)


@dataclass(frozen=True, slots=True)
class Circulating(Stackable):
    """The flow through a breathing patient, averaged over breaths: `flow_m3_s` at equal pressures.

    head_pa  pressure rise from a to b at which the flow is about zero; a pressure fall adds the flow through `way`
    """

    flow_m3_s: float
    head_pa: float
    way: Resistance

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = lift((a - b + self.head_pa) / self.head_pa + CORNER, CORNER)
        value = self.flow_m3_s * share + FLOOR_M3_S_PA * (a - b)
        slope = self.flow_m3_s * slope / self.head_pa + FLOOR_M3_S_PA
        fall, rounding = ramp(a - b, ROUNDED_PA)
        through, more = self.way.by_drop(fall, mix_a)
        value, slope = value + through, slope + more * rounding
        return Flow(value, slope, -slope)
