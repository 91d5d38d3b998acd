"""Uncertainty of measurement after the GUM (JCGM 100:2008)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import erf, exp, floor, hypot, inf, isinf, pi, sqrt

from fleet.late import np, optimize, special, stats

COVERAGE_PROBABILITY = erf(2 / sqrt(2))
"""0.954 499..., the "95 %" of calibration practice, for which k = 2 exactly if the uncertainty is well known.

Source: JCGM 100:2008, G.6.4 and the 95.45 % column of table G.2.
"""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty (same unit, >= 0) and the degrees of freedom of that (> 0)."""

    value: float
    std_uncertainty: float = 0.0
    dof: float = inf

    def __post_init__(self):
        if not self.std_uncertainty >= 0:
            raise ValueError(f"std_uncertainty must be zero or more, got {self.std_uncertainty!r}")
        if not self.dof > 0:
            raise ValueError(f"dof must be above zero, got {self.dof!r}")

    def expanded(self, probability: float = COVERAGE_PROBABILITY) -> float:
        """Return the expanded uncertainty at a coverage probability."""
        return coverage_factor(self.dof, probability) * self.std_uncertainty


NORMAL, RECTANGULAR = 0.0, -1.2  # excess kurtosis
NEARLY_NORMAL = -0.1  # up to here k is left as of a normal distribution: it would be less than 1 % smaller


@dataclass(frozen=True, slots=True)
class Shaped(Estimate):
    """An estimate whose distribution is flatter than a normal one: excess kurtosis 0 (normal) to -1.2 (rectangular)."""

    excess: float = NORMAL

    def expanded(self, probability: float = COVERAGE_PROBABILITY) -> float:
        return coverage_factor(self.dof, probability, self.excess) * self.std_uncertainty


def excess_of(estimate: Estimate) -> float:
    """Return the excess kurtosis of an estimate, 0 unless it says otherwise."""
    return estimate.excess if isinstance(estimate, Shaped) else NORMAL


WELL_KNOWN_DOF = 1e6  # above it the uncertainty counts as exactly known: k moves by less than 1e-5


def whole_dof(dof: float) -> float:
    """Return degrees of freedom cut down to a whole number, at least 1; inf where they are too many to matter.

    Raises ValueError for dof <= 0. Source: JCGM 100:2008, G.4.1, note 1.
    """
    if not dof > 0:
        raise ValueError(f"dof must be above zero, got {dof!r}")
    return inf if dof > WELL_KNOWN_DOF else max(1, floor(dof + 1e-9))


def coverage_factor(dof: float = inf, probability: float = COVERAGE_PROBABILITY, excess: float = NORMAL) -> float:
    """Return k from Student's t; dof is cut down to a whole number, at least 1.

    excess  excess kurtosis: a distribution that is mostly rectangular ends sooner, and needs a smaller k (1.65)
    Raises ValueError for a probability outside 0 to 1 or dof <= 0. Source: JCGM 100:2008, G.3.2, G.4.1; EA-4/02 M:2022,
    S9 for the rectangular one (from memory).
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must lie between 0 and 1, got {probability!r}")
    return _coverage_factor(whole_dof(dof), probability, round(excess, 3))


@lru_cache(maxsize=2048)
def _coverage_factor(dof: float, probability: float, excess: float) -> float:
    tail = (1 + probability) / 2
    normal = 2.0 if probability == COVERAGE_PROBABILITY else float(stats.norm.ppf(tail))
    factor = normal if isinf(dof) else float(stats.t.ppf(tail, dof))
    return factor if excess >= NEARLY_NORMAL else factor * _flat_factor(probability, excess) / normal


def _flat_factor(probability: float, excess: float) -> float:
    """Return k of a rectangular and a normal error together, whose excess kurtosis is as given."""
    if excess <= RECTANGULAR:
        return probability * sqrt(3)
    root = sqrt(excess / RECTANGULAR)
    half = sqrt(3 * root / (1 - root))  # of the rectangle, for a normal error of 1
    total = sqrt(1 + half**2 / 3)

    def primitive(z: float) -> float:
        return z * float(special.ndtr(z)) + exp(-(z**2) / 2) / sqrt(2 * pi)

    def missed(k: float) -> float:
        x = k * total
        return (primitive(x + half) - primitive(x - half)) / half - 1 - probability

    return float(optimize.brentq(missed, 0.0, 10.0))


@lru_cache(maxsize=256)
def _flat_factors(probability: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    shapes = tuple(RECTANGULAR + step * 0.02 for step in range(60)) + (NORMAL,)
    return tuple(coverage_factor(inf, probability, shape) for shape in shapes), shapes


def excess_for(factor: float) -> float:
    """Return the excess kurtosis whose k at the usual coverage probability is this: coverage_factor turned about."""
    return float(np.interp(factor, *_flat_factors(COVERAGE_PROBABILITY)))


def from_repeats(readings: Sequence[float]) -> Estimate:
    """Return the mean of repeated readings with its type A standard uncertainty and n - 1 dof.

    readings  shape (n,), n >= 2, independent, in the unit that the result keeps
    Raises ValueError if n < 2. Source: JCGM 100:2008, 4.2.
    """
    if len(readings) < 2:
        raise ValueError(f"readings must hold at least 2 values, got {readings!r}; repeat the measurement")
    values = np.asarray(readings, dtype=float)
    return Estimate(float(values.mean()), float(values.std(ddof=1) / sqrt(len(values))), len(values) - 1)


def from_simultaneous_repeats(series: Sequence[Sequence[float]]) -> tuple[tuple[Estimate, ...], np.ndarray]:
    """Return the means of quantities read together, and the correlation matrix of the means.

    series  shape (m, n): m quantities, each read n >= 2 times, the j-th readings at the same moment
    Raises ValueError if the series differ in length. Source: JCGM 100:2008, 5.2.3, equation (17).
    """
    if len({len(one) for one in series}) != 1:
        raise ValueError("every series must hold the same number of readings; they are read together")
    return tuple(from_repeats(one) for one in series), np.atleast_2d(np.corrcoef(series))


def from_limits(value: float, half_width: float) -> Estimate:
    """Return a value known to lie within +/-half_width, equally likely anywhere. Source: JCGM 100:2008, 4.3.7."""
    return Estimate(value, half_width / sqrt(3))


def from_resolution(value: float, step: float) -> Estimate:
    """Return a value read in steps of this size. Source: JCGM 100:2008, F.2.2.1."""
    return from_limits(value, step / 2)


def sensitivities(function: Callable[..., float], estimates: Sequence[Estimate]) -> np.ndarray:
    """Return the partial derivatives of function(*values), by central differences of a hundredth of u.

    An input without uncertainty gets 0, for it cannot contribute. Source: JCGM 100:2008, 5.1.3, note 2.
    """
    values = [estimate.value for estimate in estimates]
    slopes = np.zeros(len(values))
    for place, estimate in enumerate(estimates):
        step = 0.01 * estimate.std_uncertainty
        if step > 0:
            above, below = list(values), list(values)
            above[place], below[place] = values[place] + step, values[place] - step
            slopes[place] = (real(function(*above)) - real(function(*below))) / (above[place] - below[place])
    return slopes


def real(number: complex) -> float:
    """Return a number as a float. Python gives a complex one for the fractional power of a negative number."""
    if isinstance(number, complex):
        raise ValueError("a fractional power of a negative number")
    return float(number)


def propagate(
    function: Callable[..., float], estimates: Sequence[Estimate], correlation: np.ndarray | None = None
) -> Estimate:
    """Return function(*values) with its combined standard uncertainty and effective degrees of freedom.

    estimates    the n inputs
    correlation  shape (n, n), symmetric, ones on the diagonal; None for independent inputs
    Source: JCGM 100:2008, 5.1.2 and equation (16) for correlated inputs; G.4.1 for the dof, which holds
    for independent inputs and is an approximation for others.
    """
    estimates = tuple(estimates)
    parts = sensitivities(function, estimates) * [estimate.std_uncertainty for estimate in estimates]
    variance = float(parts @ parts if correlation is None else parts @ correlation @ parts)
    combined = sqrt(max(0.0, variance))
    value = real(function(*(estimate.value for estimate in estimates)))
    dof = effective_dof(combined, [(part, estimate.dof) for part, estimate in zip(parts, estimates, strict=True)])
    return Estimate(value, combined, dof)


def effective_dof(combined: float, parts: Sequence[tuple[float, float]]) -> float:
    """Return the Welch-Satterthwaite effective degrees of freedom.

    combined  combined standard uncertainty
    parts     (contribution to it, degrees of freedom) of each input
    Source: JCGM 100:2008, G.4.1, equation (G.2b).
    """
    if combined <= 0:
        return inf
    spread = sum((part / combined) ** 4 / dof for part, dof in parts if not isinf(dof))
    return 1 / spread if spread > 0 else inf


def combined(value: float, parts: Sequence[Estimate], *, dof: float | None = None) -> Estimate:
    """Return a value with independent standard uncertainties put together, their degrees of freedom and their shape.

    dof  where it is known, as of parts that rest on one scatter; else by Welch and Satterthwaite
    """
    total = hypot(*(part.std_uncertainty for part in parts))
    if dof is None:
        dof = effective_dof(total, [(part.std_uncertainty, part.dof) for part in parts])
    excess = sum((part.std_uncertainty / total) ** 4 * excess_of(part) for part in parts) if total else NORMAL
    return Shaped(value, total, dof, excess) if excess else Estimate(value, total, dof)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line y = intercept + slope (x - origin) with the covariance of its two numbers.

    intercept, slope  estimates with n - 2 degrees of freedom
    correlation       between intercept and slope
    scatter           standard deviation of the points about the line
    """

    origin: float
    intercept: Estimate
    slope: Estimate
    correlation: float
    scatter: float

    def at(self, x: float) -> Estimate:
        """Return y predicted at x, with its uncertainty. Source: JCGM 100:2008, H.3.4."""
        matrix = np.array([[1.0, self.correlation], [self.correlation, 1.0]])
        predicted = propagate(lambda a, b: a + b * (x - self.origin), (self.intercept, self.slope), matrix)
        return Estimate(predicted.value, predicted.std_uncertainty, self.slope.dof)


def fit_line(x: Sequence[float], y: Sequence[float], origin: float = 0.0) -> Line:
    """Return the least-squares line through points whose x is exact and whose y scatters alike.

    x, y  shape (n,), n >= 3, at least 2 different x
    Raises ValueError for fewer points. Source: JCGM 100:2008, H.3.2, equations (H.13).
    """
    if len(x) < 3 or len(set(x)) < 2:
        raise ValueError(f"a line with uncertainty needs 3 points at 2 different x or more, got x = {list(x)!r}")
    theta, heights = np.asarray(x, dtype=float) - origin, np.asarray(y, dtype=float)
    count, mean = len(theta), theta.mean()
    squares = float(((theta - mean) ** 2).sum())
    slope = float(((theta - mean) * (heights - heights.mean())).sum() / squares)
    intercept = float(heights.mean() - slope * mean)
    scatter = sqrt(float(((heights - intercept - slope * theta) ** 2).sum()) / (count - 2))
    intercept_std = scatter * sqrt(1 / count + mean**2 / squares)
    correlation = float(-mean / sqrt(squares / count + mean**2)) if mean else 0.0
    return Line(
        origin,
        Estimate(intercept, intercept_std, count - 2),
        Estimate(slope, scatter / sqrt(squares), count - 2),
        correlation,
        scatter,
    )
