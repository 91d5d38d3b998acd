"""Vapour at altitude: what a dial means there, and the limits of a vaporizer's output at a setting.

A dial is marked in percent of one atmosphere. A variable-bypass vaporizer gives nearly the same partial pressure at
every altitude, so that its percentage rises as the ambient pressure falls. A heated one that meters its vapour gives
the same percentage everywhere.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from .limits import FROM_MEMORY, SEEN, Limit
from .specs import limit

CALIBRATED_PA = 101_325.0  # the pressure at which dials and analysers are marked
SATURATED_PA: Mapping[str, float] = MappingProxyType(
    {"halothane": 32_300.0, "isoflurane": 31_730.0, "enflurane": 22_840.0, "sevoflurane": 21_000.0}
)
"""Saturated vapour pressure at 20 °C, Pa. Source: fits of chemicals 1.5.2; sevoflurane: 157 mmHg, as printed."""
VARIABLE, HEATED, MEASURED_FLOW = "variable bypass", "heated", "measured flow"
SHARE, PARTIAL = "percentage", "partial pressure"


def as_dialled(kind: str, shows: str) -> Callable[[float, float], float]:
    """Return the function of (fraction shown, ambient Pa absolute) that gives what the dial should say.

    kind   variable bypass: a partial pressure over 101.325 kPa; heated, or a setting worked out for the ambient
           pressure (measured flow): a share of the gas
    shows  percentage: a share of the gas; partial pressure: that over 101.325 kPa, as of a refractometer
    Source of the simple rule: frcanotes.com, Altitude_volatiles.
    """
    if (kind == VARIABLE) == (shows == PARTIAL):
        return lambda shown, ambient: shown
    if kind == VARIABLE:
        return lambda shown, ambient: shown * ambient / CALIBRATED_PA
    return lambda shown, ambient: shown * CALIBRATED_PA / ambient


def split_output(dial: float, saturated_pa: float, ambient_pa_abs: float) -> float:
    """Return the fraction by volume that a fixed split of flows, right at 101.325 kPa, gives at another pressure.

    dial  0 to 1; ambient_pa_abs above saturated_pa. At 2240 m it is 16 % above the simple rule for isoflurane.
    Raises ValueError where the liquid would boil.
    """
    if ambient_pa_abs <= saturated_pa:
        raise ValueError("the liquid boils at this ambient pressure")
    vapour = dial / (1 - dial) * (CALIBRATED_PA - saturated_pa) / (ambient_pa_abs - saturated_pa)
    return vapour / (1 + vapour)


def symmetric(key: str, dial: float, maximum: float) -> Limit:
    """Return +/-20 % of the setting or +/-5 % of the maximum setting, the greater; fractions."""
    band = 100 * max(0.2 * dial, 0.05 * maximum)
    return limit(
        key, "vaporizer-20-5", "20 % of setting or 5 % of maximum, the greater", (-band, band), "%",
        "EN 740, ISO 8835-4, ISO 80601-2-13", "ISO 80601-2-13", FROM_MEMORY,
    )  # fmt: skip


def asymmetric(key: str, dial: float, maximum: float) -> Limit:
    """Return +30/-20 % of the setting or +7.5/-5 % of the maximum setting, the greater; fractions."""
    above, below = 100 * max(0.3 * dial, 0.075 * maximum), 100 * max(0.2 * dial, 0.05 * maximum)
    return limit(
        key, "vaporizer-30-20", "+30/-20 % of setting or +7.5/-5 % of maximum, the greater", (-below, above), "%",
        "ISO 8835-4:2004, IEC 60601-2-13", "ISO 8835-4:2004", FROM_MEMORY,
    )  # fmt: skip


def audit(key: str, dial: float, maximum: float) -> Limit:
    """Return +/-15 % of the setting, as a published audit of 94 vaporizers judged; fractions."""
    band = 15 * dial
    return limit(
        key, "vaporizer-audit-15", "15 % of setting", (-band, band), "%",
        "Br J Anaesth 1993; 71: 453-7", "1993", SEEN, note="A clinical audit at 6 L/min of oxygen, not a standard.",
    )  # fmt: skip


def off_limits(key: str) -> tuple[Limit, ...]:
    """Return the published limits of the vapour that comes with the dial off."""
    return (
        limit(key, "vaporizer-off-0.05", "No more than 0.05 %", (None, 0.05), "%", "ISO 8835-4", "ISO 8835-4",
              FROM_MEMORY),
        limit(key, "vaporizer-off-0.1", "No more than 0.1 %", (None, 0.1), "%", "ASTM F1850, EN 740", "ASTM F1850",
              FROM_MEMORY),
    )  # fmt: skip


BAND_OF: Mapping[str, Callable[[str, float, float], Limit]] = MappingProxyType(
    {"symmetric": symmetric, "asymmetric": asymmetric, "audit": audit}
)
