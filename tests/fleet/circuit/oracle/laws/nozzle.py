"""Flow through an orifice: isentropic, choked below the critical pressure ratio."""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, expm1, log1p, sqrt

from fleet.circuit.gases import Mix
from fleet.circuit.structure import STANDARD_PA_ABS
from tests.fleet.circuit.oracle.flow import Flow

GAS_CONSTANT = 8.314462618  # J/(mol K), exact product. Source: CODATA 2018
TEMPERATURE_K = 293.15
# Near zero pressure difference the root is replaced by a parabola, so that its slope stays finite.
NARROW_PA = 10.0


@lru_cache(maxsize=4096)
def choking(heat_ratio: float) -> tuple[float, float]:
    """Return the critical ratio of downstream to upstream pressure, and the flow function there.

    Source: from memory, isentropic flow of an ideal gas; checked against fluids (API 520) in the tests.
    """
    k = heat_ratio
    base = 2 / (k + 1)
    return base ** (k / (k - 1)), sqrt(k) * base ** ((k + 1) / (2 * (k - 1)))


@dataclass(frozen=True, slots=True)
class Nozzle:
    """An orifice of that effective area (area times discharge coefficient), m2; the same in both directions."""

    area_m2: float

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        if a >= b:
            value, by_up, by_down = one_way(self.area_m2, a, b, mix_a)
            return Flow(value, by_up, by_down)
        value, by_up, by_down = one_way(self.area_m2, b, a, mix_b)
        return Flow(-value, -by_down, -by_up)


def one_way(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    """Return the flow from the higher pressure `up` to `down`, and its slopes with each."""
    if up <= 0:
        return 0.0, 0.0, 0.0
    drop = up - down
    if drop >= NARROW_PA:
        return _wide(area_m2, up, down, mix)
    full, by_up, by_down = _wide(area_m2, down + NARROW_PA, down, mix)
    x = drop / NARROW_PA
    share, slope = x * (3 - x) / 2, (3 - 2 * x) / (2 * NARROW_PA)
    return full * share, full * slope, (by_up + by_down) * share - full * slope


def opening_way(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    """Return the same for a valve that blocks back flow: its slope starts at zero.

    A slope that starts above zero would make a corner where the flow is cut off at zero difference.
    """
    drop = up - down
    if up <= 0 or drop >= NARROW_PA:
        return one_way(area_m2, up, down, mix)
    if drop <= 0:
        return 0.0, 0.0, 0.0
    full, by_up, by_down = _wide(area_m2, down + NARROW_PA, down, mix)
    x = drop / NARROW_PA
    share, slope = x * x * (5 - 3 * x) / 2, x * (10 - 9 * x) / (2 * NARROW_PA)
    return full * share, full * slope, (by_up + by_down) * share - full * slope


def _wide(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    k = mix.heat_ratio
    scale = area_m2 * sqrt(GAS_CONSTANT * TEMPERATURE_K / mix.molar_mass) / STANDARD_PA_ABS
    critical, choked = choking(k)
    if down <= critical * up:
        return scale * choked * up, scale * choked, 0.0
    log_ratio = log1p((down - up) / up)
    # r^(2/k) (1 - r^((k-1)/k)), written without loss of precision near r = 1
    head, gap = exp(2 / k * log_ratio), -expm1((k - 1) / k * log_ratio)
    psi = sqrt(2 * k / (k - 1) * head * gap)
    ratio = down / up
    by_ratio = (k / (k - 1)) * head / ratio * (2 / k * gap - (k - 1) / k * (1 - gap)) / psi
    return scale * up * psi, scale * (psi - ratio * by_ratio), scale * by_ratio


def nozzle_area(flow_m3_s: float, up_pa_abs: float, down_pa_abs: float, mix: Mix) -> float:
    """Return the effective area, m2, that passes this flow of a gas between two pressures, the first the higher."""
    return flow_m3_s / one_way(1.0, up_pa_abs, down_pa_abs, mix)[0]
