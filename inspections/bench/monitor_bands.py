"""What gas monitors may err by in a certified gas, and what a partial pressure on their display is as a fraction."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .breaths import BODY_VAPOUR_PA
from .limits import FROM_MEMORY, Limit
from .oxygen_here import OXYGEN_OFFSET, OXYGEN_SHARE
from .quantities import to_si
from .specs import limit
from .vapour import SATURATED_PA

GOOD_SHARE = 0.25
"""Part of the band that the expanded uncertainty of a certified gas may take.

The reference values of the house ask for it; it is the 4:1 of ANSI/NCSL Z540.3, from memory.
"""
DRY, SATURATED = "dry", "saturated"


@dataclass(frozen=True, slots=True)
class MonitoredGas:
    """One gas that monitors show, with the band +/-(offset + share x level) that is allowed for it.

    offset      in % by volume; share of the level, 0 to 1
    least_span  fraction of certified gas from which on it says something about the scale. Common practice, no source
    asks_zero   whether a gas without it has to be read as well
    """

    code: str
    name: str
    offset: float
    share: float
    least_span: float
    asks_zero: bool = True

    @property
    def result(self) -> str:
        return f"{self.code}_error"

    def limit(self, reference: float) -> Limit:
        """Return the limit of error at a reference concentration, 0 to 1: never at what the monitor shows.

        Source: ISO 80601-2-55, from memory.
        """
        band = self.offset + 100 * self.share * reference
        title = f"{self.offset:g} % + {100 * self.share:g} % of the reference"
        return limit(
            self.result, "iso80601-2-55", title, (-band, band), "%", "ISO 80601-2-55", "ISO 80601-2-55", FROM_MEMORY
        )


MONITORED: Mapping[str, MonitoredGas] = MappingProxyType(
    {
        one.code: one
        for one in (
            MonitoredGas("co2", "carbon dioxide", 0.43, 0.08, to_si(3, "%")),
            MonitoredGas("n2o", "nitrous oxide", 2.0, 0.08, to_si(20, "%")),
            MonitoredGas("agent", "anaesthetic agent", 0.2, 0.15, to_si(1, "%")),
            MonitoredGas("oxygen", "oxygen", OXYGEN_OFFSET, OXYGEN_SHARE, to_si(40, "%"), asks_zero=False),
        )
    }
)
AGENTS = (*SATURATED_PA, "desflurane")


def fraction_of(partial_pa: float, ambient_pa_abs: float, kind: str) -> float:
    """Return the fraction of a dry gas that a monitor shows as a partial pressure.

    kind  dry: of the gas as it is (ATPD); saturated: as it would be at 37 °C with water vapour (BTPS)
    Source: Dalton's law; water vapour of 6.28 kPa at 37 °C.
    """
    return partial_pa / _gas_pa(ambient_pa_abs, kind)


def partial_pressure_of(fraction: float, ambient_pa_abs: float, kind: str) -> float:
    """Return the partial pressure, Pa, that a right monitor shows for a fraction of a dry gas. See fraction_of."""
    return fraction * _gas_pa(ambient_pa_abs, kind)


def _gas_pa(ambient_pa_abs: float, kind: str) -> float:
    return ambient_pa_abs - (BODY_VAPOUR_PA if kind == SATURATED else 0.0)
