"""Sweeps of oxygen pressure: where a flow crosses a threshold, and what the curve looks like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from fleet.late import np, optimize

from .propagation import Measured, propagate_measured
from .uncertainty import COVERAGE_PROBABILITY, Estimate, Shaped, combined, excess_for

_RAMP = 0.1  # a shut-off kind closes over about a tenth of the full pressure
_TELLING = 0.05  # least difference of the two root-mean-square misfits that tells the kinds apart
_LIKENESS = 0.2  # a curve that misses both shapes by more than this is like neither


@dataclass(frozen=True, slots=True)
class Crossing:
    """The pressure at which a flow crosses a threshold, lying in the bracket high to low.

    high, low  the bracketing pressures; high above or equal to low
    part       how far from high to low the interpolated value lies, 0 to 1
    is_clean   the flow crossed once, between two neighbouring readings
    """

    high: Measured
    low: Measured
    part: float
    is_clean: bool

    @property
    def value(self) -> float:
        at = self.high.value + self.part * (self.low.value - self.high.value)
        return min(max(at, self.low.value), self.high.value)

    @property
    def bracket_std(self) -> float:
        """Return what interpolation leaves open, in Pa.

        Between two readings nothing was seen: the crossing may be anywhere in the bracket, equally
        likely. The root-mean-square distance of such a point from the value given is
        sqrt(half_width^2 / 3 + (value - middle)^2): half_width / sqrt(3) for a value in the middle, twice
        that at an end. An error of the flows moves the value only within the bracket, or just past
        the end that it is near, which the second term has room for; so it is not added again.
        Source: JCGM 100:2008, 4.3.7, 4.3.8 and F.2.4.4.
        """
        half_width = (self.high.value - self.low.value) / 2
        middle = (self.high.value + self.low.value) / 2
        return hypot(half_width / sqrt(3), self.value - middle)

    @property
    def bracket(self) -> Estimate:
        """Return what interpolation leaves open, with the k that covers 95 % of a rectangle off its middle."""
        half_width = (self.high.value - self.low.value) / 2
        if half_width <= 0:
            return Estimate(0.0)
        off = min(1.0, abs(self.value - (self.high.value + self.low.value) / 2) / half_width)
        reach = max(COVERAGE_PROBABILITY, 2 * COVERAGE_PROBABILITY - 1 + off)
        return Shaped(0.0, self.bracket_std, excess=excess_for(reach * half_width / self.bracket_std))

    @property
    def estimate(self) -> Estimate:
        """Return the pressure with the uncertainty of bracket and gauge, in Pa."""
        return combined(self.value, (propagate_measured(self._at, (self.high, self.low)), self.bracket))

    def _at(self, high: float, low: float) -> float:
        return high + self.part * (low - high)

    def minus(self, other: Crossing) -> Estimate:
        """Return this pressure less another read on the same gauge; the gauge's own error mostly cancels."""
        gauge = propagate_measured(
            lambda high, low, other_high, other_low: self._at(high, low) - other._at(other_high, other_low),
            (self.high, self.low, other.high, other.low),
        )
        return combined(self.value - other.value, (gauge, self.bracket, other.bracket))


Sweep = Sequence[tuple[Measured, Measured]]


def find_crossing(sweep: Sweep, threshold: float) -> Crossing | None:
    """Return where the flow falls below a threshold, None if it never does or comes back at the end.

    sweep      (pressure, flow) from the highest pressure to the lowest, the first flow at or above the threshold
    threshold  m3/s; a flow exactly on it has not fallen below
    A flow that crosses more than once widens the bracket to hold every crossing, with its middle as value.
    """
    above = [flow.value >= threshold for _, flow in sweep]
    if not above or not above[0] or above[-1]:
        return None
    first_below = above.index(False)
    last_above = max(place for place, is_above in enumerate(above) if is_above)
    high, low = sweep[first_below - 1], sweep[last_above + 1]
    if last_above != first_below - 1:
        return Crossing(high[0], low[0], 0.5, is_clean=False)
    part = (high[1].value - threshold) / (high[1].value - low[1].value)
    return Crossing(high[0], low[0], part, is_clean=True)


def tell_shape(pressures: Sequence[float], flows: Sequence[float]) -> str | None:
    """Return "shut-off" or "proportional", None if the readings do not determine it.

    pressures, flows  shape (n,), ratios to the values at full pressure, the start (1, 1) among them
    Two shapes are fitted to the readings: a ramp over a tenth of the full pressure about the half-flow
    point, and a straight fall from the start with slope 0.5 to 3. The nearer wins if it is clearly nearer.
    """
    x, ratio = np.asarray(pressures, dtype=float), np.asarray(flows, dtype=float)
    if len(set(x)) < 4 or ratio.min() > 0.5:
        return None
    half = find_crossing([(Measured(p), Measured(q)) for p, q in zip(x, ratio, strict=True)], 0.5)
    if half is None:
        return None

    def straight(slope: float) -> float:
        return _misfit(1 - slope * (1 - x), ratio)

    ramp = _misfit(0.5 + (x - half.value) / _RAMP, ratio)
    line = float(optimize.minimize_scalar(straight, bounds=(0.5, 3.0), method="bounded").fun)
    if abs(ramp - line) < _TELLING or min(ramp, line) > _LIKENESS:
        return None
    return "shut-off" if ramp < line else "proportional"


def _misfit(predicted: np.ndarray, seen: np.ndarray) -> float:
    return float(np.sqrt(np.mean((np.clip(predicted, 0, 1) - seen) ** 2)))
