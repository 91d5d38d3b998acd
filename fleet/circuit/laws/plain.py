"""Passive branches: a resistance, and a shut seat that is not perfectly tight."""

from dataclasses import dataclass

from fleet.circuit.flow import Flow, Stackable
from fleet.circuit.gases import Mix
from fleet.circuit.laws.nozzle import GAS_CONSTANT, TEMPERATURE_K
from fleet.circuit.laws.numbers import sqrt, upstream
from fleet.circuit.structure import STANDARD_PA_ABS

# No valve is perfectly tight: this passes 0.02 mL/min at 400 kPa, far below any limit of a bench test, and makes every
# pressure unique. Source: common practice, no source.
FLOOR_M3_S_PA = 0.02e-6 / 60 / 400e3
# The shut seat of a regulator, with a cylinder upstream and a shut line downstream: tighter, else its outlet would
# creep up to relief pressure in every state without flow. Source: common practice, no source.
TIGHT_M3_S_PA = FLOOR_M3_S_PA / 1000
DENSITY_PER_MOLAR_MASS = STANDARD_PA_ABS / (GAS_CONSTANT * TEMPERATURE_K)  # mol/m3


@dataclass(frozen=True, slots=True)
class Closed(Stackable):
    """A shut seat: flow in proportion to the pressure across it, by default that of a tight seat."""

    conductance: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        return Flow(self.conductance * (a - b), self.conductance, -self.conductance)


FLOOR = Closed()


@dataclass(frozen=True, slots=True)
class Resistance(Stackable):
    """A pipe: pressure drop = linear q + square rho q2, with rho at 20 C and 101.325 kPa; the same in both directions.

    linear  Pa s/m3, above zero; square  m-4, zero or more. Source: from memory, Rohrer's equation. Valid if the
    drop is small compared with the absolute pressure; use Nozzle for choked flow.
    """

    linear: float
    square: float = 0.0

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        drop, linear = a - b, self.linear
        mass = upstream(drop >= 0, mix_a, mix_b).molar_mass
        root = sqrt(linear * linear + 4 * self.square * mass * DENSITY_PER_MOLAR_MASS * abs(drop))
        slope = 1 / root
        return Flow(2 * drop / (linear + root), slope, -slope)

    def by_drop(self, drop: float, mix: Mix) -> tuple[float, float]:
        """Return flow and slope for a pressure drop >= 0, Pa."""
        root = sqrt(self.linear * self.linear + 4 * self.square * mix.molar_mass * DENSITY_PER_MOLAR_MASS * drop)
        return 2 * drop / (self.linear + root), 1 / root


OXYGEN = Mix.supply("oxygen")


def resistance(drop_pa: float, flow_m3_s: float, linear_share: float = 0.3) -> Resistance:
    """Return the resistance with this pressure drop at this flow of oxygen, a fraction of it in proportion to flow."""
    rho = OXYGEN.molar_mass * DENSITY_PER_MOLAR_MASS
    return Resistance(linear_share * drop_pa / flow_m3_s, (1 - linear_share) * drop_pa / (rho * flow_m3_s**2))
