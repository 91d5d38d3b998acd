"""What a right oxygen analyser shows at a site: by the oxygen supplied there, the altitude and the moisture."""

from dataclasses import dataclass
from math import sqrt

from .breaths import BODY_VAPOUR_PA
from .limits import FROM_MEMORY, Limit
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .specs import limit
from .uncertainty import RECTANGULAR, Estimate
from .vapour import CALIBRATED_PA, PARTIAL

AIR = 0.2095  # oxygen of dry room air by volume. Source: U.S. Standard Atmosphere 1976, table 3
WET, DRY = "saturated", "dry"
OXYGEN_OFFSET, OXYGEN_SHARE = 2.5, 0.025
"""The band of an oxygen monitor: +/-(2.5 % oxygen + 2.5 % of level). Source: ISO 80601-2-55, from memory."""


def expected_reading(fraction: float, ambient_pa_abs: float, *, shows: str, moisture: str) -> float:
    """Return what a right analyser shows in a gas with this fraction of oxygen when dry, 0 to 1.

    shows     percentage: the share of the gas, as set at the site; partial pressure: that over 101.325 kPa, as an
              analyser shows it that was set at sea level
    moisture  dry, or saturated at 37 °C: water vapour takes 6.28 kPa of the ambient pressure
    Source: Dalton's law.
    """
    dry_pa = ambient_pa_abs - (BODY_VAPOUR_PA if moisture == WET else 0.0)
    return fraction * dry_pa / (CALIBRATED_PA if shows == PARTIAL else ambient_pa_abs)


def oxygen_band(level: float) -> float:
    """Return the half-width of the band of an oxygen monitor in % oxygen; level 0 to 1."""
    return OXYGEN_OFFSET + 100 * OXYGEN_SHARE * level


@dataclass(frozen=True, slots=True)
class Expected:
    """What one reading of the analyser should be here.

    fraction     of the dry gas, with its uncertainty
    is_ordinary  whether the published limits of that reading fit: they are for dry gas, shown as a share of it
    """

    key: str
    fraction: Measured
    ambient: Measured
    shows: str
    moisture: str
    is_ordinary: bool
    why: str

    def reading(self, fraction: float, ambient: float) -> float:
        return expected_reading(fraction, ambient, shows=self.shows, moisture=self.moisture)

    @property
    def value(self) -> float:
        return self.reading(self.fraction.value, self.ambient.value)

    @property
    def limit(self) -> Limit:
        """The band of an oxygen monitor about what is expected."""
        middle, band = 100 * self.value, oxygen_band(self.value)
        return limit(
            self.key, "iso80601-2-55-here", f"2.5 % oxygen + 2.5 % of level, about {middle:.4g} % expected here",
            (middle - band, middle + band), "%", "ISO 80601-2-55, at the reading expected at this site",
            "ISO 80601-2-55", FROM_MEMORY, note=self.why,
        )  # fmt: skip

    def judged(self, shown: Measured) -> Estimate:
        """Return a reading, as uncertain as what is expected makes its comparison with that."""
        return propagate_measured(
            lambda seen, fraction, ambient: seen - self.reading(fraction, ambient) + self.value,
            (shown, self.fraction, self.ambient),
        )


def expected_here(bench: Bench) -> dict[str, Expected]:
    """Return what is expected in room air and after a flush, by the key of the reading."""
    shows, moisture = bench.choice("shows"), bench.choice("moisture")
    oxygen, as_usual = bench.context.oxygen, shows != PARTIAL and moisture == DRY
    supply = Measured(oxygen.fraction, own_std=oxygen.half_range / sqrt(3), own_excess=RECTANGULAR)
    common = {"ambient": bench.ambient, "shows": shows, "moisture": moisture}
    return {
        "air_reading": Expected(
            "air_reading", Measured(AIR), is_ordinary=as_usual, why=_why("room air holds 20.95 % oxygen", bench),
            **common,
        ),
        "flush_reading": Expected(
            "flush_reading", supply, is_ordinary=as_usual and not oxygen.is_weak,
            why=_why(f"the site is supplied with {oxygen.words}", bench), **common,
        ),
    }  # fmt: skip


def _why(holds: str, bench: Bench) -> str:
    """Return in a sentence what the expected reading follows from."""
    ambient = bench.context.ambient_pa_abs / 1000
    parts = [holds]
    if bench.choice("moisture") == WET:
        parts.append("the gas at the sensor is saturated at 37 °C")
    if bench.choice("shows") == PARTIAL:
        parts.append("the analyser shows a partial pressure as percent of sea level")
    sentence = "; ".join(parts)
    return f"{sentence[:1].upper()}{sentence[1:]}; ambient pressure {ambient:.4g} kPa."
