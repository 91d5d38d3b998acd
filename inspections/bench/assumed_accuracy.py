"""What a reading may be off where no instrument is named for it, or where the instrument's accuracy is not stated.

No reading is exact. These figures are of ordinary equipment of a workshop: common practice, no source. They are wide,
so that naming an instrument with its stated accuracy decides more.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .quantities import Dimension, to_si

K = 2


@dataclass(frozen=True, slots=True)
class AssumedAccuracy:
    """+/-(of_reading x reading + absolute_si) with k = 2; words says so to a person.

    A quarter of it each reading has for itself; the rest is shared by the readings of one column of a table.
    """

    of_reading: float
    absolute_si: float
    words: str

    def std(self, value_si: float) -> float:
        return (self.of_reading * abs(value_si) + self.absolute_si) / K


OWN_SHARE = 0.25
STATED_GAS = "reference gas"
TRAPPED_VOLUME, STAMPED_CAPACITY = "volume between valves", "stamped water capacity"
ASSUMED_ACCURACY: Mapping[str, AssumedAccuracy] = MappingProxyType(
    {
        Dimension.PRESSURE: AssumedAccuracy(0.04, 50.0, "± (4 % of the reading + 50 Pa)"),
        Dimension.FLOW: AssumedAccuracy(0.1, to_si(10, "mL/min"), "± (10 % of the reading + 10 mL/min)"),
        Dimension.FRACTION: AssumedAccuracy(0.025, 0.025, "± (2.5 % of the reading + 2.5 % oxygen)"),
        Dimension.TIME: AssumedAccuracy(0.0, 0.6, "± 0.6 s"),
        Dimension.TEMPERATURE: AssumedAccuracy(0.0, 0.5, "± 0.5 K"),
        Dimension.VOLUME: AssumedAccuracy(0.1, 0.0, "± 10 %"),
        Dimension.COMPLIANCE: AssumedAccuracy(0.2, 0.0, "± 20 %"),
        Dimension.MASS: AssumedAccuracy(0.005, 0.02, "± (0.5 % of the reading + 20 g)"),
        TRAPPED_VOLUME: AssumedAccuracy(0.2, 0.0, "± 20 %"),
        STAMPED_CAPACITY: AssumedAccuracy(0.02, 0.0, "± 2 %"),
        STATED_GAS: AssumedAccuracy(0.0, 0.005, "± 0.5 % oxygen"),
    }
)
_OTHER = AssumedAccuracy(0.05, 0.0, "± 5 %")


def assumed_accuracy(kind: str) -> AssumedAccuracy:
    """Return the figures for a dimension, or for one of the kinds named above, as STATED_GAS."""
    return ASSUMED_ACCURACY.get(kind, _OTHER)
