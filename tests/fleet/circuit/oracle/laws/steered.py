"""Controlled valves: by outlet pressure, by a pilot pressure, or by a metering controller."""

from dataclasses import dataclass

from fleet.circuit.gases import Mix
from tests.fleet.circuit.oracle.flow import Flow, Law
from tests.fleet.circuit.oracle.laws.nozzle import opening_way
from tests.fleet.circuit.oracle.laws.plain import FLOOR_M3_S_PA, OXYGEN, TIGHT_M3_S_PA, Resistance
from tests.fleet.circuit.oracle.laws.ramps import Opening, lift

CORNER = 0.02  # fraction of the band of a regulator over which its corners are rounded
ROUNDED_PA = 2.0
SHARPNESS = 8  # of the corner between the flow that `way` allows and the metered flow


@dataclass(frozen=True, slots=True)
class Steered:
    """A branch that a pilot pressure opens, in parallel with the leak of a shut valve.

    No flow at the lower end of `opening`, the full flow of `way` at its upper end.
    """

    way: Law
    opening: Opening
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = self.opening.at(pilots[0])
        if share == 0:
            return Flow(self.leak * (a - b), self.leak, -self.leak, (0.0,))
        way = self.way.flow(a, b, mix_a, mix_b, ())
        return Flow(
            share * way.value + self.leak * (a - b),
            share * way.by_a + self.leak,
            share * way.by_b - self.leak,
            (slope * way.value,),
        )


@dataclass(frozen=True, slots=True)
class Regulating:
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
        if a <= b or b >= set_pa_abs:
            return Flow(self.leak * (a - b), self.leak, -self.leak), 0.0
        share, slope = lift((set_pa_abs - b) / self.band_pa, CORNER)
        full, by_up, by_down = opening_way(self.area_m2, a, b, mix)
        by_set = full * slope / self.band_pa
        flow = Flow(full * share + self.leak * (a - b), by_up * share + self.leak, by_down * share - by_set - self.leak)
        return flow, by_set


@dataclass(frozen=True, slots=True)
class Following:
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
    if drop >= ROUNDED_PA:
        return way
    x = drop / ROUNDED_PA
    share, slope = x * x * (3 - 2 * x), 6 * x * (1 - x) / ROUNDED_PA * way.value
    return Flow(way.value * share, way.by_a * share + slope, way.by_b * share - slope)


def lesser(way: float, limit: float) -> tuple[float, float, float]:
    """Return the lesser of two flows >= 0 with the corner rounded, always below both, and its slopes with each."""
    if way <= 0 or limit <= 0:
        return 0.0, (1.0 if limit > 0 else 0.0), (1.0 if way > 0 else 0.0)
    low, high = min(way, limit), max(way, limit)
    value = low * (1 + (low / high) ** SHARPNESS) ** (-1 / SHARPNESS)
    return value, (value / way) ** (SHARPNESS + 1), (value / limit) ** (SHARPNESS + 1)


@dataclass(frozen=True, slots=True)
class Metered:
    """The flow of a metering controller: `limit_m3_s`, or less if `way` allows less; no back flow.

    opening  if a pilot pressure reduces the limit, else None
    """

    way: Law
    limit_m3_s: float
    opening: Opening | None = None
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        share, slope = self.opening.at(pilots[0]) if self.opening else (1.0, 0.0)
        if a <= b:
            return Flow(self.leak * (a - b), self.leak, -self.leak, (0.0,) * len(pilots))
        way = _from_nothing(self.way.flow(a, b, mix_a, mix_b, ()), a - b)
        value, by_way, by_limit = lesser(way.value, self.limit_m3_s * share)
        steered = (by_limit * self.limit_m3_s * slope,) if self.opening else ()
        return Flow(value + self.leak * (a - b), by_way * way.by_a + self.leak, by_way * way.by_b - self.leak, steered)


@dataclass(frozen=True, slots=True)
class Rationed:
    """Passes at most `ratio` times the flow of another branch, which it senses by the pressure drop there.

    felt  the resistance of that other branch, assumed to carry oxygen. Pilots: its two ends, in order.
    """

    way: Law
    felt: Resistance
    ratio: float
    leak: float = FLOOR_M3_S_PA

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        if a <= b:
            return Flow(self.leak * (a - b), self.leak, -self.leak, (0.0, 0.0))
        drop = pilots[0] - pilots[1]
        felt, by_drop = self.felt.by_drop(max(drop, 0.0), OXYGEN)
        way = _from_nothing(self.way.flow(a, b, mix_a, mix_b, ()), a - b)
        value, by_way, by_limit = lesser(way.value, self.ratio * felt)
        steered = by_limit * self.ratio * by_drop if drop >= 0 else 0.0
        return Flow(
            value + self.leak * (a - b),
            by_way * way.by_a + self.leak,
            by_way * way.by_b - self.leak,
            (steered, -steered),
        )
