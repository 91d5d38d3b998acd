"""Flow through an orifice: isentropic, choked below the critical pressure ratio."""

from dataclasses import dataclass
from functools import lru_cache

from fleet.circuit.flow import Flow, Stackable
from fleet.circuit.gases import Mix
from fleet.circuit.laws.numbers import exp, expm1, log1p, sqrt, upstream, where, within
from fleet.circuit.structure import STANDARD_PA_ABS

GAS_CONSTANT = 8.314462618  # J/(mol K), exact product. Source: CODATA 2018
TEMPERATURE_K = 293.15
# Near zero pressure difference the root is replaced by a parabola, so that its slope stays finite.
NARROW_PA = 10.0


def choking(heat_ratio: float) -> tuple[float, float]:
    """Return the critical ratio of downstream to upstream pressure, and the flow function there.

    Source: from memory, isentropic flow of an ideal gas; checked against fluids (API 520) in the tests.
    """
    return _choking(heat_ratio) if isinstance(heat_ratio, float) else _choking.__wrapped__(heat_ratio)


@lru_cache(maxsize=4096)
def _choking(k):
    base = 2 / (k + 1)
    return base ** (k / (k - 1)), sqrt(k) * base ** ((k + 1) / (2 * (k - 1)))


@dataclass(frozen=True, slots=True)
class Nozzle(Stackable):
    """An orifice of that effective area (area times discharge coefficient), m2; the same in both directions."""

    area_m2: float

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        forward = a >= b
        up, down = where(forward, a, b), where(forward, b, a)
        value, by_up, by_down = one_way(self.area_m2, up, down, upstream(forward, mix_a, mix_b))
        return Flow(where(forward, value, -value), where(forward, by_up, -by_down), where(forward, by_down, -by_up))


def one_way(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    """Return the flow from the higher pressure `up` to `down`, and its slopes with each."""
    x = within((up - down) / NARROW_PA, 0.0, 1.0)
    return _rounded(area_m2, up, down, mix, x * (3 - x) / 2, (3 - 2 * x) / (2 * NARROW_PA))


def opening_way(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    """Return the same for a valve that blocks back flow: its slope starts at zero.

    A slope that starts above zero would make a corner where the flow is cut off at zero difference.
    """
    x = within((up - down) / NARROW_PA, 0.0, 1.0)
    return _rounded(area_m2, up, down, mix, x * x * (5 - 3 * x) / 2, x * (10 - 9 * x) / (2 * NARROW_PA))


def _rounded(area_m2, up, down, mix, share, slope) -> tuple[float, float, float]:
    """Return flow and slopes: below NARROW_PA a share of the flow there, with the slope of that share.

    Nothing flows out of a vacuum.
    """
    slope = where(up > 0, slope, 0.0)
    is_wide = up - down >= NARROW_PA
    full, by_up, by_down = _wide(area_m2, where(is_wide, up, down + NARROW_PA), down, mix)
    return (
        full * share,
        where(is_wide, by_up, full * slope),
        where(is_wide, by_down, (by_up + by_down) * share - full * slope),
    )


def _wide(area_m2: float, up: float, down: float, mix: Mix) -> tuple[float, float, float]:
    k = mix.heat_ratio
    scale = area_m2 * sqrt(GAS_CONSTANT * TEMPERATURE_K / mix.molar_mass) / STANDARD_PA_ABS
    critical, choked = choking(k)
    is_choked = down <= critical * up
    if is_choked is True:  # one state, and what follows is for slower gas
        return scale * up * choked, scale * choked, 0.0
    log_ratio = log1p(where(is_choked, critical - 1, (down - up) / up))
    # r^(2/k) (1 - r^((k-1)/k)), written without loss of precision near r = 1
    head, gap = exp(2 / k * log_ratio), -expm1((k - 1) / k * log_ratio)
    psi = sqrt(2 * k / (k - 1) * head * gap)
    ratio = where(is_choked, critical, down / up)
    by_ratio = (k / (k - 1)) * head / ratio * (2 / k * gap - (k - 1) / k * (1 - gap)) / psi
    return (
        scale * up * where(is_choked, choked, psi),
        scale * where(is_choked, choked, psi - ratio * by_ratio),
        where(is_choked, 0.0, scale * by_ratio),
    )


def nozzle_area(flow_m3_s: float, up_pa_abs: float, down_pa_abs: float, mix: Mix) -> float:
    """Return the effective area, m2, that passes this flow of a gas between two pressures, the first the higher."""
    return flow_m3_s / one_way(1.0, up_pa_abs, down_pa_abs, mix)[0]
