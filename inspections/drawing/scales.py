"""Where a limit bar begins and ends, and where a value is on it."""

from dataclasses import dataclass

SPECK = 1e-12  # in a display unit: no gauge shows it, and a scale drawn so fine runs out of floating point
FAR = 3.0  # a value this many reference lengths from the only limit is shown at the edge with an arrow


@dataclass(frozen=True, slots=True)
class BarScale:
    """A stretch of one display unit laid over a stretch of paper.

    low, high    in the display unit, low < high
    left, right  the same ends in points
    """

    low: float
    high: float
    left: float
    right: float

    def x(self, value: float) -> float:
        """Return the place of a value in points, held within the stretch."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.left + share * (self.right - self.left)

    def beyond(self, value: float) -> int:
        """Return -1 or +1 for a value left or right of the stretch, 0 within it."""
        return (value > self.high) - (value < self.low)


def bar_domain(value: float, expanded: float, lower: float | None, upper: float | None) -> tuple[float, float]:
    """Return the ends (low, high) of a limit bar in the display unit, low < high.

    Limits are always inside; the value is too unless it lies so far out that the limits would shrink to a speck.
    All arguments finite, expanded >= 0, lower <= upper.
    """
    limits = [limit for limit in (lower, upper) if limit is not None]
    if not limits:
        low, high = value - 2 * expanded, value + 2 * expanded
        return _padded(low, high, value >= 2 * expanded)
    reference = _reference(value, expanded, limits)
    low = max(min(value - expanded, *limits), min(limits) - FAR * reference)
    high = min(max(value + expanded, *limits), max(limits) + FAR * reference)
    room = 0.35 * reference if len(limits) == 2 else 0.2 * reference
    low, high = min(low, limits[0] - room), max(high, limits[-1] + room)
    return _padded(low, high, value >= expanded and min(limits) >= 0 and lower != 0)


def _reference(value, expanded, limits):
    if len(limits) == 2 and limits[1] > limits[0]:
        return limits[1] - limits[0]
    return max(abs(limits[0]), 4 * expanded) or abs(value) or 1.0


def _padded(low, high, stops_at_zero):
    """Return the ends with some room; where nothing is below zero the bar begins there if zero is near."""
    span, size = high - low, max(abs(low), abs(high))
    if span <= max(SPECK, 1e-9 * size):
        span = 0.2 * size if size > SPECK else 1.0
        low, high = low - span / 2, high + span / 2
    low, high = low - 0.06 * span, high + 0.06 * span
    return (0.0 if stops_at_zero and low < 0.3 * high else low), high
