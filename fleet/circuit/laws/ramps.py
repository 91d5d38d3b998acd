"""Ramps with rounded corners for what opens or closes over a narrow band, with slopes."""

from dataclasses import dataclass

from fleet.circuit.flow import Stackable
from fleet.circuit.laws.numbers import higher, within


def ramp(x: float, width: float) -> tuple[float, float]:
    """Return 0 below 0 and about x above, with a parabola between 0 and `width`, and its slope.

    Above `width` the value is x - width / 2. width > 0, in the unit of x.
    """
    rounded = within(x, 0.0, width)
    slope = rounded / width
    return rounded * slope / 2 + higher(x - width, 0.0), slope


def lift(x: float, width: float) -> tuple[float, float]:
    """Return 0 below 0, 1 above 1 + width, about x between, rounded over `width` at both ends, and its slope."""
    low, low_slope = ramp(x, width)
    high, high_slope = ramp(x - 1, width)
    return low - high, low_slope - high_slope


@dataclass(frozen=True, slots=True)
class Opening(Stackable):
    """The opening of a valve by a pilot pressure: 0 at `shut_pa_abs` and below, 1 at `open_pa_abs` and above.

    Raises ValueError unless open_pa_abs > shut_pa_abs.
    """

    shut_pa_abs: float
    open_pa_abs: float

    def __post_init__(self):
        if self.open_pa_abs <= self.shut_pa_abs:
            raise ValueError(
                f"A valve that shuts at {self.shut_pa_abs:.0f} Pa must open above that, not at {self.open_pa_abs:.0f}."
            )

    def at(self, pilot: float) -> tuple[float, float]:
        """Return the opening, 0 to 1, and its slope per Pa of pilot pressure."""
        span = self.open_pa_abs - self.shut_pa_abs
        x = within((pilot - self.shut_pa_abs) / span, 0.0, 1.0)
        return x * x * (3 - 2 * x), 6 * x * (1 - x) / span
