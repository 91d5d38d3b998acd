"""Exact bounds of the rate of hidden failures, from inspections with any gaps between them. Plain Python.

An inspection that looks after a gap of T years finds a hidden failure with the chance 1 - exp(-rT), if failures come at
a constant rate r and are mended at each inspection. So the number of inspections that found one is a sum of unlike
yes-or-no trials (Poisson binomial), whose chance of at most n falls as r rises. The bounds are the rates at which that
chance is as small as the confidence allows: the same construction as that of Clopper and Pearson (1934, Biometrika 26:
404, from memory), with which it agrees where all gaps are alike. Times are in years, rates per year of one machine.
"""

from collections.abc import Sequence
from math import inf, log

from fleet.late import np, optimize, stats
from inspections.planning.rates import Bounds, Gap, hidden_failure_rate

HIGHEST = 1e4  # a rate beyond which nothing is looked for, per year


def hidden_rate_bounds(gaps: Sequence[Gap], confidence: float) -> Bounds:
    """Return the rate with its exact two-sided interval; the value is the most likely rate.

    `value` and `upper` are infinite where every gap ended with a failure. Raises ValueError without a gap.
    """
    failed = _failed(gaps)
    alpha = (1 - confidence) / 2
    lower = _rate_where(gaps, failed - 1, 1 - alpha) if failed else 0.0
    value = hidden_failure_rate(gaps).value if any(not gap.failed for gap in gaps) else inf
    return Bounds(value, lower, _upper(gaps, failed, alpha), confidence)


def hidden_rate_upper_bound(gaps: Sequence[Gap], confidence: float) -> float:
    """Return the exact one-sided upper bound of the rate; -ln(1 - confidence)/sum of T where none was found."""
    return _upper(gaps, _failed(gaps), 1 - confidence)


def chance_of_at_most(number: int, rate: float, gaps: Sequence[Gap]) -> float:
    """Return the chance that at most `number` of the gaps end with a failure, at a rate per year."""
    years, trials = (np.array([getattr(gap, name) for gap in gaps], dtype=float) for name in ("years", "number"))
    counts = np.arange(number + 1)
    own = stats.binom.pmf(counts[None, :], trials[:, None], -np.expm1(-rate * years)[:, None])
    found = np.zeros(number + 1)
    found[0] = 1.0
    for row in own:
        found = np.convolve(found, row)[: number + 1]
    return float(found.sum())


def _failed(gaps):
    if not gaps:
        raise ValueError("a rate of hidden failures needs one gap between inspections at least")
    return sum(gap.number for gap in gaps if gap.failed)


def _upper(gaps, failed, alpha):
    if not failed:
        return -log(alpha) / sum(gap.years * gap.number for gap in gaps)
    if all(gap.failed for gap in gaps):
        return inf
    return _rate_where(gaps, failed, alpha)


def _rate_where(gaps, number, chance):
    """Return the rate at which at most `number` failures have that chance."""

    def beyond(rate):
        return chance_of_at_most(number, rate, gaps) - chance

    high = 1 / max(gap.years for gap in gaps)
    while beyond(high) > 0 and high < HIGHEST:
        high *= 2
    return float(optimize.brentq(beyond, 0.0, high, xtol=1e-12, rtol=1e-10))
