"""The uncertainty of what is computed from readings that share instruments.

Every reading has an error of its own (resolution, scatter of repeats) and a part in errors that others share: that of
the scale on which it was read, and that of the ambient pressure where this was taken off. Each of these is one
independent source. Readings of one scale share its error (correlation 1) only for one gas: how a flow analyser errs
in oxygen says nothing of how it errs in nitrous oxide. So a level carries the whole accuracy of a gauge, while a
difference of two near readings carries little of it. Source: JCGM 100:2008, F.1.2.3.

Each source in turn is taken through the function at three points that keep its mean, its variance and what a curved
function makes of them. For a straight function this is the law of propagation; for a curved one it holds the
second-order term of JCGM 100:2008, 5.1.2, note, and the shift of the mean, so that u is the root-mean-square distance
from the value shown. Products of two sources are left out: for parts of 10 % they add 0.5 % to u.

No case is decided by a threshold: the three points are always taken. What says that they are needed, and that they are
enough, is the criterion of JCGM 101:2008, clause 8 (from memory): u agrees with a Monte Carlo simulation within half a
unit of its second significant digit, which is 5 % of u at most. The tests hold every family to it; by first order alone
a function fails it once the error is no longer small beside the value at which it bends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt

from fleet.late import np, stats

from .uncertainty import RECTANGULAR, Estimate, Line, Shaped, combined, fit_line, real

AMBIENT = "ambient pressure"


@dataclass(frozen=True, slots=True)
class Measured:
    """One reading in SI.

    own_std       standard uncertainty of its own (resolution); own_excess is the excess kurtosis of that
    shared_std    standard uncertainty shared with other readings of the same scale in the same gas (accuracy)
    scale         which scale of which instrument for which dimension; None where it is shared with no other reading
    gas           what was read, where a scale errs differently in different gases
    repeat_std    standard uncertainty from the scatter of repeated readings, with repeat_dof degrees of freedom
    ambient_std   what the uncertainty of the ambient pressure adds; below zero where it was taken off
    instrument    code of the instrument that was named, empty if none was
    """

    value: float
    own_std: float = 0.0
    shared_std: float = 0.0
    scale: tuple[str, int] | None = None
    gas: str = ""
    own_excess: float = 0.0
    shared_excess: float = 0.0
    repeat_std: float = 0.0
    repeat_dof: float = inf
    ambient_std: float = 0.0
    instrument: str = ""

    @property
    def estimate(self) -> Estimate:
        parts = (
            Shaped(0.0, self.own_std, inf, self.own_excess), Shaped(0.0, self.shared_std, inf, self.shared_excess),
            Estimate(0.0, self.repeat_std, self.repeat_dof), Estimate(0.0, abs(self.ambient_std)),
        )  # fmt: skip
        return combined(self.value, parts)


@dataclass(frozen=True, slots=True)
class Source:
    """One independent error: by how much one standard deviation of it moves each reading, by place."""

    shifts: dict[int, float]
    excess: float = 0.0
    dof: float = inf
    is_own: bool = False


def sources(measured: Sequence[Measured]) -> list[Source]:
    """Return the independent errors behind readings."""
    found = []
    shared: dict[object, Source] = {}
    for place, one in enumerate(measured):
        if one.own_std:
            found.append(Source({place: one.own_std}, one.own_excess, is_own=True))
        if one.repeat_std:
            found.append(Source({place: one.repeat_std}, dof=one.repeat_dof))
        if one.shared_std:
            key = place if one.scale is None else (one.scale, one.gas)
            shared.setdefault(key, Source({}, one.shared_excess)).shifts[place] = one.shared_std
        if one.ambient_std:
            shared.setdefault(AMBIENT, Source({})).shifts[place] = one.ambient_std
    return [*found, *shared.values()]


@dataclass(frozen=True, slots=True)
class Part:
    """What one source does to a result: the shift of its mean, and its standard deviation about that."""

    source: Source
    bias: float
    std: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A result with the parts of its uncertainty."""

    value: float
    parts: Sequence[Part]

    @property
    def estimate(self) -> Estimate:
        spread = [Shaped(0.0, part.std, part.source.dof, part.source.excess) for part in self.parts]
        return combined(self.value, [*spread, Estimate(0.0, abs(sum(part.bias for part in self.parts)))])

    def with_scatter(self, scatter: Estimate, *, apart: int | None = None) -> Estimate:
        """Return the result where the scatter of the readings about a curve is known, as its own effect on the result.

        Scatter that the readings' own errors (resolution) explain adds nothing; scatter beyond the 99 % point of what
        they explain takes their place. Source: chi-squared of the residuals.

        apart  place of a reading that is not of the curve: its own error stays
        """
        curve = [part for part in self.parts if part.source.is_own and apart not in part.source.shifts]
        own = hypot(*(part.std for part in curve))
        if isfinite(scatter.dof) and scatter.std_uncertainty > own * sqrt(_most_by_chance(scatter.dof)):
            rest = Budget(self.value, [part for part in self.parts if part not in curve]).estimate
            return combined(self.value, (rest, scatter))
        return self.estimate


def _most_by_chance(dof: float) -> float:
    return float(stats.chi2.ppf(0.99, dof)) / dof


def budget(function: Callable[..., float], measured: Sequence[Measured]) -> Budget:
    """Return function(*values) with what each source of error adds to its uncertainty."""
    values = [one.value for one in measured]
    value = real(function(*values))
    return Budget(value, [_part(function, values, value, source) for source in sources(measured)])


_SMALLER = (1e-2, 1e-4, 1e-6, 1e-8)  # of a standard deviation: one that reaches far past zero leaves little room


def _part(function: Callable[..., float], values: Sequence[float], value: float, source: Source) -> Part:
    is_flat = source.excess < RECTANGULAR / 2
    step, weight = (sqrt(9 / 5), 5 / 18) if is_flat else (sqrt(3), 1 / 6)  # Gauss-Legendre and Gauss-Hermite points
    try:
        above, below = (_at(function, values, source, way * step) - value for way in (1, -1))
    except (ArithmeticError, ValueError):  # so far away the readings give no result: take the slope at the value
        return Part(source, 0.0, abs(_slope_at_the_value(function, values, source)))
    bias = weight * (above + below)
    return Part(source, bias, sqrt(max(0.0, weight * (above**2 + below**2) - bias**2)))


def _slope_at_the_value(function: Callable[..., float], values: Sequence[float], source: Source) -> float:
    """Return the change by one standard deviation of a source, from the nearest points that give a result."""
    for small in _SMALLER:
        try:
            above, below = (_at(function, values, source, way * small) for way in (1, -1))
        except (ArithmeticError, ValueError):
            continue
        return (above - below) / (2 * small)
    raise ValueError(f"the readings give no result within {_SMALLER[-1]:g} of the uncertainty of one of them")


def _at(function: Callable[..., float], values: Sequence[float], source: Source, steps: float) -> float:
    moved = list(values)
    for place, shift in source.shifts.items():
        moved[place] += steps * shift
    found = real(function(*moved))
    if not isfinite(found):
        raise ValueError("not a finite number")
    return found


def propagate_measured(function: Callable[..., float], measured: Sequence[Measured]) -> Estimate:
    """Return function(*values) with the uncertainty that the instruments give it."""
    return budget(function, measured).estimate


def difference(first: Measured, second: Measured) -> Estimate:
    """Return first minus second; an error that both share cancels."""
    return propagate_measured(lambda a, b: a - b, (first, second))


def measured_slope(points: Sequence[tuple[Measured, Measured]]) -> Estimate:
    """Return the slope of the least-squares line through (x, y), with the uncertainty of both.

    points  n >= 2 at 2 different x or more; with n >= 3 the scatter about the line counts too (Budget.with_scatter)
    """
    x, y = zip(*points, strict=True)
    count = len(points)
    found = budget(lambda *all: _slope(np.array(all[:count]), np.array(all[count:])), (*x, *y))
    return found.estimate if count < 3 else found.with_scatter(_fit(points).slope)


def measured_rise(level: Measured, points: Sequence[tuple[Measured, Measured]]) -> Estimate:
    """Return a level less y at x = 0 of the line through (x, y); an error common to all y cancels.

    points  as for measured_slope
    """
    x, y = zip(*points, strict=True)
    count = len(points)

    def rise(at_level: float, *all: float) -> float:
        xs, ys = np.array(all[:count]), np.array(all[count:])
        return float(at_level - (ys.mean() - _slope(xs, ys) * xs.mean()))

    found = budget(rise, (level, *x, *y))
    return found.estimate if count < 3 else found.with_scatter(_fit(points).intercept, apart=0)


def _fit(points: Sequence[tuple[Measured, Measured]]) -> Line:
    return fit_line([x.value for x, _ in points], [y.value for _, y in points])


def _slope(x: np.ndarray, y: np.ndarray) -> float:
    away = x - x.mean()
    return float((away * (y - y[0])).sum() / (away**2).sum())
