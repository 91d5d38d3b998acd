"""Controlled valves: by outlet pressure, by a pilot pressure, or by a metering controller."""

from dataclasses import dataclass

from fleet.circuit.flow import Flow, Law, Stackable
from fleet.circuit.gases import Mix
from fleet.circuit.laws.nozzle import opening_way
from fleet.circuit.laws.numbers import where, within
from fleet.circuit.laws.plain import FLOOR_M3_S_PA, OXYGEN, TIGHT_M3_S_PA, Resistance
from fleet.circuit.laws.ramps import Opening, lift

CORNER = 0.02  # fraction of the band of a regulator over which its corners are rounded
ROUNDED_PA = 2.0
SHARPNESS = 8  # of the corner between the flow that `way` allows and the metered flow


@dataclass(frozen=True, slots=True)
class Steered(Stackable):
    """A branch that a pilot pressure opens, in parallel with the leak of a shut valve.

    No flow at the lower end of `opening`, the full flow of `way` at its upper end.
    """

    way: Law
    opening: Opening
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = self.opening.at(pilots[0])
        way = self.way.flow(a, b, mix_a, mix_b, ())
        return Flow(
            share * way.value + self.leak * (a - b),
            share * way.by_a + self.leak,
            share * way.by_b - self.leak,
            (slope * way.value,),
        )


@dataclass(frozen=True, slots=True)
class Regulating(Stackable):
    """A regulator: its seat opens as the outlet falls below the set pressure, fully open `band_pa` below it.

    area_m2  of the fully open seat; leak  of the shut seat, m3/s per Pa (creep)
    No back flow except the leak: the seat shuts as the outlet pressure rises.
    """

    set_pa_abs: float
    band_pa: float
    area_m2: float
    leak: float = TIGHT_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        return self.at(self.set_pa_abs, a, b, mix_a)[0]

    def at(self, set_pa_abs: float, a: float, b: float, mix: Mix) -> tuple[Flow, float]:
        """Return the flow at another set pressure, and its slope with that."""
        share, slope = lift((set_pa_abs - b) / self.band_pa, CORNER)
        full, by_up, by_down = opening_way(self.area_m2, a, b, mix)
        by_set = full * slope / self.band_pa
        flow = Flow(full * share + self.leak * (a - b), by_up * share + self.leak, by_down * share - by_set - self.leak)
        return flow, by_set


@dataclass(frozen=True, slots=True)
class Following(Stackable):
    """A regulator whose set pressure follows a pilot: ambient + ratio (pilot - from), ambient at most `most` above.

    from_pa_abs  pilot pressure at and below which it is shut; most_pa  highest set pressure above ambient
    """

    regulator: Regulating
    from_pa_abs: float
    ratio: float
    ambient_pa_abs: float
    most_pa: float

    def set_at(self, pilot: float) -> tuple[float, float]:
        """Return the set pressure, Pa absolute, and its slope with the pilot pressure."""
        share, slope = lift(self.ratio * (pilot - self.from_pa_abs) / self.most_pa, CORNER)
        return self.ambient_pa_abs + self.most_pa * share, self.ratio * slope

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        set_pa_abs, slope = self.set_at(pilots[0])
        flow, by_set = self.regulator.at(set_pa_abs, a, b, mix_a)
        return flow._replace(by_pilots=(by_set * slope,))


def _from_nothing(way: Flow, drop: float) -> Flow:
    """Return the flow of a branch that blocks back flow: the flow sets in gradually over the first pascals.

    So its slope is continuous where back flow is cut off.
    """
    x = within(drop / ROUNDED_PA, 0.0, 1.0)
    share, slope = x * x * (3 - 2 * x), 6 * x * (1 - x) / ROUNDED_PA * way.value
    return Flow(way.value * share, way.by_a * share + slope, way.by_b * share - slope)


def lesser(way: float, limit: float) -> tuple[float, float, float]:
    """Return the lesser of two flows >= 0 with the corner rounded, always below both, and its slopes with each."""
    flows, is_limited = way > 0, limit > 0
    is_both = flows & is_limited
    one, other = where(is_both, way, 1.0), where(is_both, limit, 1.0)
    low, high = where(one < other, one, other), where(one < other, other, one)
    value = low * (1 + (low / high) ** SHARPNESS) ** (-1 / SHARPNESS)
    return (
        where(is_both, value, 0.0),
        where(is_both, (value / one) ** (SHARPNESS + 1), where(is_limited, 1.0, 0.0)),
        where(is_both, (value / other) ** (SHARPNESS + 1), where(flows, 1.0, 0.0)),
    )


@dataclass(frozen=True, slots=True)
class Metered(Stackable):
    """The flow of a metering controller: `limit_m3_s`, or less if `way` allows less; no back flow.

    opening  if a pilot pressure reduces the limit, else None
    """

    way: Law
    limit_m3_s: float
    opening: Opening | None = None
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = self.opening.at(pilots[0]) if self.opening else (1.0, 0.0)
        way = _from_nothing(self.way.flow(a, b, mix_a, mix_b, ()), a - b)
        value, by_way, by_limit = lesser(way.value, self.limit_m3_s * share)
        steered = (by_limit * self.limit_m3_s * slope,) if self.opening else ()
        return Flow(value + self.leak * (a - b), by_way * way.by_a + self.leak, by_way * way.by_b - self.leak, steered)


@dataclass(frozen=True, slots=True)
class Rationed(Stackable):
    """Passes at most `ratio` times the flow of another branch, which it senses by the pressure drop there.

    felt  the resistance of that other branch, assumed to carry oxygen. Pilots: its two ends, in order.
    """

    way: Law
    felt: Resistance
    ratio: float
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        drop = pilots[0] - pilots[1]
        felt, by_drop = self.felt.by_drop(where(drop > 0, drop, 0.0), OXYGEN)
        way = _from_nothing(self.way.flow(a, b, mix_a, mix_b, ()), a - b)
        value, by_way, by_limit = lesser(way.value, self.ratio * felt)
        steered = where(drop >= 0, by_limit * self.ratio * by_drop, 0.0)
        return Flow(
            value + self.leak * (a - b),
            by_way * way.by_a + self.leak,
            by_way * way.by_b - self.leak,
            (steered, -steered),
        )
