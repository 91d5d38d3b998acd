"""The alarms of an anaesthetic machine: where each should sound, how late it may, and what has to be done to it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .display_limits import airway_band, volume_band_anaesthesia
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN, Limit
from .oxygen_here import oxygen_band
from .quantities import Dimension
from .specs import limit

DISCONNECTION = "disconnection"
ASCENDING, HANGING, PISTON, TURBINE = "ascending bellows", "hanging bellows", "piston", "turbine"
ON_RECORD: Mapping[str, str] = MappingProxyType({"bellows": HANGING, "hanging bellows": HANGING, "piston": PISTON})
"""What the record of a ventilator says, as what is tested: of bellows that may stand or hang the harder case."""


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm that sounds at a limit that was set.

    code        of its option and of its table
    band        how far from its setting it may sound: limit of (result key, setting in SI); None: reported only
    unjudged    why it is reported only, where it has no band
    late        limit of its delay, None: reported only
    """

    code: str
    label: str
    dimension: Dimension
    unit: str
    band: Callable[[str, float], Limit] | None
    late: Limit | None
    unjudged: str = ""
    late_unjudged: str = ""
    is_read_apart: bool = True

    @property
    def key(self) -> str:
        return self.code.replace("-", "_")

    @property
    def table(self) -> str:
        return f"{self.key}_trials"

    @property
    def error(self) -> str:
        return f"{self.key}_error"

    @property
    def delay(self) -> str:
        return f"{self.key}_delay"


def oxygen_alarm_band(key: str, set_to: float) -> Limit:
    """Return how far from its setting an oxygen alarm may sound; set_to a fraction 0 to 1."""
    band = oxygen_band(set_to)
    return limit(
        key, "iso80601-2-55", "2.5 % oxygen + 2.5 % of the setting", (-band, band), "%", "ISO 80601-2-55",
        "ISO 80601-2-55", FROM_MEMORY,
    )  # fmt: skip


def pressure_alarm_band(key: str, set_to: float) -> Limit:
    """Return how far from its setting a pressure alarm may sound; set_to in Pa."""
    band = airway_band(set_to)
    return limit(
        key, "alarm-pressure-2-4", "2 cmH2O + 4 % of the setting", (-band, band), "cmH2O", "common practice, no source",
        "-", COMMON_PRACTICE,
        note="The figures are those of ISO 80601-2-12 for displays of airway pressure, from memory.",
    )  # fmt: skip


def minute_volume_alarm_band(key: str, set_to: float) -> Limit:
    """Return how far from its setting an alarm of low minute volume may sound; set_to in m3/s."""
    return volume_band_anaesthesia(key, set_to, "L/min")


def _late(key: str, rule: str, seconds: float, source: str, edition: str, basis: str, note: str = "") -> Limit:
    return limit(key, rule, f"Within {seconds:g} s", (None, seconds), "s", source, edition, basis, note=note)


DISCONNECTION_LATE = _late(
    "disconnection_delay", "disconnection-30-s", 30, "anaesthesia textbooks: 15 to 20 s at first, urgent by 30 s", "-",
    FROM_MEMORY, "A weak memory: the manufacturer's figure comes first.",
)  # fmt: skip
_NO_DELAY = "No published limit for it was found: compare it with the manufacturer's instructions."
ALARMS: Mapping[str, Alarm] = MappingProxyType(
    {
        one.code: one
        for one in (
            Alarm("low-oxygen", "Low oxygen", Dimension.FRACTION, "%", oxygen_alarm_band, None,
                  late_unjudged="It depends on how fast the gas at the sensor was changed.", is_read_apart=False),
            Alarm("high-pressure", "High airway pressure", Dimension.PRESSURE, "cmH2O", pressure_alarm_band,
                  _late("high_pressure_delay", "high-pressure-5-s", 5, "common practice, no source", "-",
                        COMMON_PRACTICE, "Within the breath that reaches the limit, at 12 breaths a minute.")),
            Alarm("continuing-pressure", "Continuing airway pressure", Dimension.PRESSURE, "cmH2O",
                  pressure_alarm_band,
                  _late("continuing_pressure_delay", "continuing-pressure-20-s", 20, "common practice, no source", "-",
                        COMMON_PRACTICE)),
            Alarm("low-minute-volume", "Low expired volume", Dimension.FLOW, "L/min", minute_volume_alarm_band, None,
                  late_unjudged=_NO_DELAY),
            Alarm("low-supply", "Low oxygen supply pressure", Dimension.PRESSURE, "kPa", None,
                  _late("low_supply_delay", "astm-f1850-5s", 5, "US anaesthesia textbook, 6th ed., p. 231",
                        "F1850-00", SEEN),
                  unjudged="The test of the oxygen supply failure judges at which pressure it sounds."),
        )
    }
)  # fmt: skip
