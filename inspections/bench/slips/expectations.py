"""What a place may be expected to show: single expectations, and how likely a value is under all of them.

Quantities are compared on a scale on which the same mistake is the same distance: the logarithm of the magnitude, since
another unit and a shifted point multiply; for a temperature kelvin, since its units have zeros of their own. The sign
does not count. All figures are SI; a pressure is gauge.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, lgamma, log, pi, sqrt

KELVIN_PER_STEP = 10.0  # of the scale of temperatures: 10 K are as far apart as a factor of e


@dataclass(frozen=True, slots=True)
class Scale:
    """Maps SI values to positions.

    nothing    magnitude that counts as zero, SI: values well below it are all at one position
    is_linear  for a temperature, whose zero is no absence of anything
    """

    nothing: float = 0.0
    is_linear: bool = False

    def position(self, value: float) -> float | None:
        """Return where a value is on the scale; None for zero where nothing counts as zero."""
        if self.is_linear:
            return value / KELVIN_PER_STEP
        size = abs(value) + self.nothing
        return log(size) if size > 0 else None

    def width(self, value: float, step: float) -> float:
        """Return how wide a step of resolution, SI, is at a value."""
        if self.is_linear:
            return step / KELVIN_PER_STEP
        size = abs(value) + self.nothing
        return step / size if size > 0 else 0.0

    def moved(self, value: float, distance: float) -> float:
        """Return the value that lies `distance` farther on the scale."""
        return value + distance * KELVIN_PER_STEP if self.is_linear else value * exp(distance)


@dataclass(frozen=True, slots=True)
class Expectation:
    """One value that would be no surprise.

    centre  SI
    spread  standard deviation on the scale of the place: of a natural logarithm, or in steps of 10 K
    source  "earlier", "same model", "rated", "usual", "row above" or "moved together"
    tails   degrees of freedom of the t distribution about it: few where little is known
    weight  its share beside the other expectations of the place
    """

    centre: float
    spread: float
    source: str
    tails: float = 3.0
    weight: float = 1.0


def density(scale: Scale, expectations: Sequence[Expectation], value: float) -> float:
    """Return how likely a value is, per unit of the scale, under all expectations together; 0 where nothing is known.

    Each is a t distribution: values far out are rare and not impossible, the more so the less is known.
    """
    position = scale.position(value)
    total = sum(one.weight for one in expectations)
    if position is None or not total:
        return 0.0
    return sum(one.weight * _density_of_one(scale, one, position) for one in expectations) / total


def _density_of_one(scale, one, position):
    centre = scale.position(one.centre)
    if centre is None:
        return 0.0
    away = (position - centre) / one.spread
    half = (one.tails + 1) / 2
    factor = exp(lgamma(half) - lgamma(one.tails / 2)) / sqrt(one.tails * pi)
    return factor * (1 + away * away / one.tails) ** -half / one.spread
