"""How often things fail: rates with their intervals, shares, hidden failures and what they cost. Plain Python.

Times are in years, rates per year (of one machine). Every interval is at a stated confidence. The formulas are textbook
ones; the tests compare them with worked values and with reference libraries. A rate is as good as its counts: a machine
that was not looked at proves nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, expm1, inf, log

from fleet.late import optimize, stats

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Bounds:
    """An estimate with its two-sided interval, in its unit; `upper` is infinite where nothing bounds it."""

    value: float
    lower: float
    upper: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Gap:
    """The time between two inspections that looked for a hidden failure.

    years    > 0
    failed   whether the second inspection found that it had failed since the first
    number   how many machines had just such a gap, >= 1
    """

    years: float
    failed: bool
    number: int = 1

    def __post_init__(self):
        if not self.years > 0 or self.number < 1:
            raise ValueError(f"a gap needs years > 0 and number >= 1, got {self!r}")


def rate_bounds(events: int, years: float, confidence: float = CONFIDENCE) -> Bounds:
    """Return the rate of events with its exact Poisson interval, per year.

    events  >= 0;  years  observed, > 0, of all machines together
    Interval from the chi-square distribution: lower chi2(a/2; 2n)/2T, upper chi2(1 - a/2; 2n + 2)/2T, with 0 events
    lower 0. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1, from memory. Raises ValueError.
    """
    _check(events, years, confidence)
    alpha = 1 - confidence
    lower = stats.chi2.ppf(alpha / 2, 2 * events) / (2 * years) if events else 0.0
    return Bounds(
        events / years, float(lower), float(stats.chi2.ppf(1 - alpha / 2, 2 * events + 2) / (2 * years)), confidence
    )


def rate_upper_bound(events: int, years: float, confidence: float = CONFIDENCE) -> float:
    """Return the one-sided upper bound of a rate, per year; with 0 events -ln(1 - confidence)/years."""
    _check(events, years, confidence)
    return float(stats.chi2.ppf(confidence, 2 * events + 2) / (2 * years))


def time_between(events: int, years: float, confidence: float = CONFIDENCE) -> Bounds:
    """Return the mean time between events with its interval, in years: the inverse of rate_bounds."""
    rate = rate_bounds(events, years, confidence)
    return Bounds(*(1 / one if one else inf for one in (rate.value, rate.upper, rate.lower)), confidence)


def share_bounds(hits: int, trials: int, confidence: float = CONFIDENCE) -> Bounds:
    """Return a proportion with its exact interval, 0 to 1.

    0 <= hits <= trials, trials >= 1. Raises ValueError.
    Source: Clopper and Pearson 1934, Biometrika 26: 404, from memory.
    """
    if not 0 <= hits <= trials or trials < 1:
        raise ValueError(f"a share needs 0 <= hits <= trials and trials >= 1, got {hits} of {trials}")
    alpha = 1 - confidence
    lower = float(stats.beta.ppf(alpha / 2, hits, trials - hits + 1)) if hits else 0.0
    upper = float(stats.beta.ppf(1 - alpha / 2, hits + 1, trials - hits)) if hits < trials else 1.0
    return Bounds(hits / trials, lower, upper, confidence)


def share_upper_bound(hits: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """Return the one-sided upper bound of a proportion, 0 to 1. See share_bounds."""
    return share_bounds(hits, trials, 2 * confidence - 1).upper


def hidden_failure_rate(gaps: Sequence[Gap], confidence: float = CONFIDENCE) -> Bounds:
    """Return the rate of hidden failures with its interval, per year of one machine.

    An inspection tells only whether something failed since the one before, not when: the failure time is censored to
    the gap. Of a constant rate r the likelihood of a gap T is 1 - exp(-rT) with a failure and exp(-rT) without; the
    value is where it is greatest. The interval holds the rates whose log likelihood is within chi2(confidence; 1)/2 of
    that. Without a failure the value is 0 and `upper` is exact, one-sided: -ln(1 - confidence)/sum of T.
    Raises ValueError without a gap, and where every gap has a failure: then no upper bound exists.
    Source: likelihood of current-status data, as in Meeker and Escobar, Statistical Methods for Reliability Data, 1998,
    chapter 7, from memory.
    """
    failed, passed = _split(gaps)
    if not failed:
        return Bounds(0.0, 0.0, -log(1 - confidence) / passed, confidence)
    if not passed:
        raise ValueError("every gap ended with a failure, so nothing bounds the rate from above; inspect more often")
    value = _root(lambda rate: _slope(rate, failed, passed), falling_from=sum(n for _, n in failed) / passed)
    best, allowed = _log_likelihood(value, failed, passed), stats.chi2.ppf(confidence, 1) / 2

    def beyond(rate):
        return best - _log_likelihood(rate, failed, passed) - allowed

    low = optimize.brentq(beyond, value * 1e-12, value, xtol=1e-15, rtol=1e-12)
    high = value
    while beyond(high) < 0:
        high *= 2
    return Bounds(value, low, optimize.brentq(beyond, value, high, xtol=1e-15, rtol=1e-12), confidence)


def share_of_time_failed(rate: float, years: float) -> float:
    """Return the mean share of the time that a hidden failure stands before the next inspection finds it, 0 to 1.

    rate  per year, >= 0;  years  between inspections, > 0. 1 - (1 - exp(-rT))/(rT), with failures that wait for the
    inspection and are mended then. Raises ValueError. Source: average unavailability of a periodically tested item,
    Rausand and Hoyland, System Reliability Theory, from memory.
    """
    if rate < 0 or not years > 0:
        raise ValueError(f"the share needs rate >= 0 and years > 0, got {rate} a year and {years} years")
    product = rate * years
    if product < 1e-4:
        return product / 2 - product**2 / 6  # the series: the formula loses its digits near 0
    return 1 + expm1(-product) / product


def _check(events, years, confidence):
    if events < 0 or not years > 0 or not 0 < confidence < 1:
        raise ValueError(
            f"a rate needs events >= 0, years > 0 and a confidence between 0 and 1, got {events} in {years} years at "
            f"{confidence}"
        )


def _split(gaps):
    """Return the gaps with a failure as (years, number), and the years of those without."""
    if not gaps:
        raise ValueError("a rate of hidden failures needs one gap between inspections at least")
    failed = [(gap.years, gap.number) for gap in gaps if gap.failed]
    return failed, sum(gap.years * gap.number for gap in gaps if not gap.failed)


def _log_likelihood(rate, failed, passed):
    return sum(number * log(-expm1(-rate * years)) for years, number in failed) - rate * passed


def _slope(rate, failed, passed):
    """The derivative of the log likelihood, which falls in the rate."""
    return sum(number * years * exp(-rate * years) / -expm1(-rate * years) for years, number in failed) - passed


def _root(slope, *, falling_from):
    low = high = falling_from
    while slope(low) < 0:
        low /= 2
    while slope(high) > 0:
        high *= 2
    return optimize.brentq(slope, low, high, xtol=1e-15, rtol=1e-12) if low < high else low
