"""What the displays of volume and airway pressure of a ventilator may err by, each at the reference."""

from .limits import FROM_MEMORY, Limit
from .quantities import from_si, to_si
from .specs import limit

ANAESTHESIA, CRITICAL = "anaesthesia", "critical"


def volume_limit_anaesthesia(key: str, reference: float) -> Limit:
    """Return the limit of error of a volume display of an anaesthetic machine, at the reference in m3."""
    return volume_band_anaesthesia(key, reference, "mL")


def volume_band_anaesthesia(key: str, level: float, unit: str) -> Limit:
    """Return the limit of error of an anaesthetic machine's display of volume or minute volume, at a level in SI."""
    band = 0.2 * from_si(level, unit)
    return limit(
        key, "iec60601-2-13-volume", "Within 20 %", (-band, band), unit, "IEC 60601-2-13", "IEC 60601-2-13", FROM_MEMORY
    )


def volume_limit_critical(key: str, reference: float) -> Limit:
    """Return the limit of error of a volume display of a critical care ventilator, at the reference in m3."""
    band = 4 + 0.15 * from_si(reference, "mL")
    return limit(
        key, "iso80601-2-12-volume", "4 mL + 15 % of the reference", (-band, band), "mL", "ISO 80601-2-12",
        "ISO 80601-2-12", FROM_MEMORY,
    )  # fmt: skip


def airway_band(level: float) -> float:
    """Return 2 cmH2O + 4 % of an airway pressure in Pa, in cmH2O. Source: ISO 80601-2-12, from memory."""
    return 2 + 0.04 * abs(from_si(level, "cmH2O"))


def pressure_limit_critical(key: str, reference: float) -> Limit:
    """Return the limit of error of a pressure display of a critical care ventilator, at the reference in Pa."""
    band = airway_band(reference)
    return limit(
        key, "iso80601-2-12-pressure", "2 cmH2O + 4 % of the reference", (-band, band), "cmH2O", "ISO 80601-2-12",
        "ISO 80601-2-12", FROM_MEMORY,
    )  # fmt: skip


FROM_VOLUME = {ANAESTHESIA: to_si(100, "mL"), CRITICAL: to_si(50, "mL")}
"""Volumes above which the rules say anything. Source: as of the limits, from memory."""
