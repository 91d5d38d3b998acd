"""The errors that a calibration states of each scale, judged by the accuracy of the scale."""

from dataclasses import dataclass
from math import floor, log10

from fleet.calibration.points import CONDITIONS, Point, ScalePoints, Verdict, verdict_of, worst
from fleet.drawing import to_svg
from fleet.drawing.error_curve import ErrorCurve, ErrorSeries, describe_errors, error_curve
from fleet.models import InstrumentScale
from fleet.web.inline_svg import inline_svg

STEPS_OF_BAND = 24


@dataclass(frozen=True, slots=True)
class JudgedPoint:
    point: Point
    allowed: float
    verdict: Verdict | None

    @property
    def error(self):
        """The error without the noise of binary figures."""
        size = max(abs(self.point.reference), abs(self.point.reading), 1e-12)
        return round(self.point.error, 11 - floor(log10(size)))

    @property
    def shown_allowed(self):
        return float(f"{self.allowed:.6g}")

    @property
    def condition(self):
        return CONDITIONS[self.point.condition].partition(",")[0].partition(" (")[0]


@dataclass(frozen=True, slots=True)
class ScaleErrors:
    """The points of one scale in its own unit, each with the accuracy there; no verdict where none is stated."""

    scale: InstrumentScale
    in_own_unit: ScalePoints

    def _judged(self, points):
        pairs = [(point, self.scale.allowed_error(point.reading)) for point in points]
        return [JudgedPoint(point, half, verdict_of(point, half) if half else None) for point, half in pairs]

    @property
    def points(self):
        return self._judged(sorted(self.in_own_unit.points, key=lambda one: (one.reference, one.condition)))

    @property
    def found(self):
        return self._judged(self.in_own_unit.found)

    @property
    def left(self):
        return self._judged(self.in_own_unit.left)

    @property
    def verdict_found(self):
        """The worst verdict as found, None where it cannot be judged."""
        return worst(one.verdict for one in self.found if one.verdict)

    @property
    def verdict_left(self):
        return worst(one.verdict for one in self.left if one.verdict)

    @property
    def was_adjusted(self):
        return self.in_own_unit.found != self.in_own_unit.left

    @property
    def ends(self):
        """Between which readings the as-left points correct, empty where they do not."""
        readings = sorted(point.reading for point in self.in_own_unit.left)
        return (readings[0], readings[-1]) if len(readings) > 1 else ()

    @property
    def svg(self):
        curve = self._curve()
        return inline_svg(to_svg(error_curve(curve), curve.title, describe_errors(curve), key=f"errors{self.scale.pk}"))

    def _curve(self):
        scale, unit = self.scale, self.scale.unit
        readings = [scale.low + (scale.high - scale.low) * step / STEPS_OF_BAND for step in range(STEPS_OF_BAND + 1)]
        readings = sorted({*readings, 0.0} if scale.low < 0 < scale.high else readings)
        band = tuple((reading, scale.allowed_error(reading)) for reading in readings)
        pairs = [("as found", self.in_own_unit.found, True), ("as left", self.in_own_unit.left, False)]
        if not self.was_adjusted:
            pairs = [("as found and as left", self.in_own_unit.left, False)]
        series = [
            ErrorSeries(words, tuple((p.reading, p.error, p.expanded) for p in points), is_found)
            for words, points, is_found in pairs
            if points
        ]
        return ErrorCurve(f"Errors, {scale}", unit, band if any(h for _, h in band) else (), tuple(series))


def errors_of(calibration, scales):
    """Return the ScaleErrors of a calibration, in the order of `scales`; a scale without points is left out."""
    held = {one.scale: one for one in calibration.scale_points}
    return [ScaleErrors(scale, held[scale.pk].in_unit(scale.unit)) for scale in scales if scale.pk in held]


def verdict_as_found(errors):
    """Return the worst verdict over all scales as found, None where nothing can be judged."""
    return worst(one.verdict_found for one in errors if one.verdict_found)


def verdict_as_left(errors):
    return worst(one.verdict_left for one in errors if one.verdict_left)


def disagrees(calibration, found, left):
    """Return whether the points surely contradict the result that was recorded."""
    results = calibration.Result
    was_outside, is_outside = found is Verdict.OUTSIDE, left is Verdict.OUTSIDE
    if calibration.result == results.WITHIN:
        return was_outside or is_outside
    return is_outside if calibration.result == results.ADJUSTED else left is Verdict.WITHIN and not was_outside
