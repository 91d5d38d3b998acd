"""Flow through a needle valve from a pressure to the ambient: what a device in proportion must let through.

The flow of a flow control follows the absolute pressure before it while it is choked, and falls to nothing where the
pressure is gone. The oxygen beside it falls in the same way, so that a device that keeps both pressures equal keeps
the mixture. Source: Saint-Venant and Wantzel's equation of flow through an orifice, cp/cv 1.3 (nitrous oxide 1.283).
"""

from math import sqrt

HEAT_RATIO = 1.3
CRITICAL = (2 / (HEAT_RATIO + 1)) ** (HEAT_RATIO / (HEAT_RATIO - 1))


def needle_flow(pressure_pa: float, ambient_pa_abs: float) -> float:
    """Return the flow at a gauge pressure, in a unit of its own: only ratios mean something. 0 at or below ambient."""
    if pressure_pa <= 0:
        return 0.0
    absolute = pressure_pa + ambient_pa_abs
    return absolute * _strength(max(ambient_pa_abs / absolute, CRITICAL))


def needle_share(pressure_pa: float, full_pa: float, ambient_pa_abs: float) -> float:
    """Return the flow at a gauge pressure as a share of that at full pressure, which is above zero."""
    return needle_flow(pressure_pa, ambient_pa_abs) / needle_flow(full_pa, ambient_pa_abs)


def _strength(ratio: float) -> float:
    k = HEAT_RATIO
    return sqrt(2 * k / (k - 1) * max(0.0, ratio ** (2 / k) - ratio ** ((k + 1) / k)))
