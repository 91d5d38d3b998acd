"""Straight drift of every series at once: levels and slopes that shrink to their family, weights against outliers.

The model. Within a stretch without a repair, a result is level + slope x (time - middle of the stretch) + error. The
error has Student's t distribution, whose scale squared is `scatter` times the variance stated for the result. A slope
belongs to a machine and comes from a normal distribution of its family; a level belongs to a stretch and comes from
another one. Centres and spreads of those, the scatter and the degrees of freedom of the tails are estimated from all
series together (empirical Bayes by an EM algorithm); families of one kind of test lend each other a few results' worth.

Scatter below 1 says that part of the stated uncertainty is common to all results of a machine (one instrument, one
method) and moves none of them against the others; above 1, that the machine itself varies from visit to visit.

Source: Lange, Little, Taylor, Robust statistical modeling using the t distribution, JASA 84 (1989) 881; Laird, Ware,
Random-effects models for longitudinal data, Biometrics 38 (1982) 963 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fleet.late import np, special

from .histories import Histories

if TYPE_CHECKING:
    from numpy.typing import NDArray

ROUNDS = 40
TAILS = (4.0, 6.0, 10.0, 30.0)
LENT_SCATTER, LENT_SPREAD, LENT_CENTRE = 3.0, 3.0, 0.5
"""How many series of a family the other families of its kind count for; common practice, no source."""
LIKE_OTHERS = 8.0  # how many results of a series its family counts for in its scatter; common practice, no source
DRIFT_IN_A_YEAR = 1.0  # expected drift before any is known, in standard deviations of the scatter a year; ditto
FREE_LEVEL = 10.0  # expected spread of levels before any is known, in standard deviations of the scatter; ditto


@dataclass(slots=True)
class Hyper:
    """What the series of a family have in common, shape (F,) each.

    slope, level    centres of slopes and levels; slope_var and level_var their spreads, squared
    slope_doubt     square of what is not known of the centre of the slopes; level_doubt that of the levels
    scatter, tails  see the head of the module; tails are degrees of freedom
    """

    slope: NDArray[np.float64]
    slope_var: NDArray[np.float64]
    level: NDArray[np.float64]
    level_var: NDArray[np.float64]
    scatter: NDArray[np.float64]
    tails: NDArray[np.float64]
    slope_doubt: NDArray[np.float64]
    level_doubt: NDArray[np.float64]


def nothing_common() -> Hyper:
    """Return what series have in common that were fitted each alone: nothing, shape (0,)."""
    return Hyper(*(np.empty(0) for _ in range(8)))


@dataclass(frozen=True, slots=True)
class Fitted:
    """The last stretch of every series, shape (S,) each; the value expected at t is level + slope (t - middle).

    covariance     of level and slope
    base_variance  stated for a result: the mean of the series
    scatter        of this series: what multiplies `base_variance`
    dof            degrees of freedom of predictions
    results        how many the last stretch holds
    widening       by what the scale of predictions is multiplied; see calibrating.py
    hyper          what the families have in common
    """

    middle: NDArray[np.float64]
    level: NDArray[np.float64]
    slope: NDArray[np.float64]
    level_var: NDArray[np.float64]
    slope_var: NDArray[np.float64]
    covariance: NDArray[np.float64]
    base_variance: NDArray[np.float64]
    scatter: NDArray[np.float64]
    dof: NDArray[np.float64]
    results: NDArray[np.intp]
    widening: NDArray[np.float64]
    hyper: Hyper


class _Work:
    """The sums over results, stretches and series that each round needs."""

    def __init__(self, histories: Histories):
        self.given = histories
        self.starts = histories.starts_of_stretches()
        self.lengths = np.diff([*self.starts, len(histories.series)])
        self.first = histories.series[self.starts]  # the series of each stretch
        self.series_starts = np.flatnonzero(np.diff(self.first, prepend=-1))
        self.family, self.families = histories.family, len(histories.kind)
        self.of_stretch = self.family[self.first]
        self.of_result = self.family[histories.series]
        self.middle = np.add.reduceat(histories.years, self.starts) / self.lengths
        self.x = histories.years - np.repeat(self.middle, self.lengths)
        self.zero = self._zero()
        self.y = histories.values - self.zero[histories.kind[self.of_result]]
        self.base = histories.base_variances()
        self.counts = np.bincount(histories.series)
        self.sizes = np.bincount(self.of_result, minlength=self.families)

    def _zero(self):
        """Return a value of each kind to count from: what is added to all values must not cost digits."""
        kind = self.given.kind[self.of_result]
        return np.bincount(kind, weights=self.given.values) / np.maximum(np.bincount(kind), 1)

    def by_stretch(self, values):
        return np.add.reduceat(values, self.starts)

    def by_series(self, values):
        return np.add.reduceat(values, self.series_starts)

    def by_family(self, values, numbers):
        return np.bincount(numbers, weights=values, minlength=self.families)


def fit(histories: Histories, rounds: int = ROUNDS) -> Fitted:
    """Return the trends of all series. Raise ValueError for no series at all."""
    if not histories.count:
        raise ValueError("There is no result to fit a trend to.")
    work = _Work(histories)
    hyper = _first_guess(work)
    weights, scatter = np.ones(len(work.y)), hyper.scatter[work.family]
    for number in range(rounds):
        lines = _lines(work, hyper, weights, scatter)
        square = _squares(work, lines)
        share = square / (work.base * scatter[histories.series])
        tails = hyper.tails[work.of_result]
        weights = (tails + 1) / (tails + share)
        sums = work.by_series(work.by_stretch(weights * square / work.base))
        scatter = (LIKE_OTHERS * hyper.scatter[work.family] + sums) / (LIKE_OTHERS + work.counts)
        _learn(work, hyper, lines, scatter)
        if number % 4 == 3:
            hyper.tails = _tails(work, share)
    return _fitted(work, hyper, _lines(work, hyper, weights, scatter), scatter)


def fit_given(histories: Histories, hyper: Hyper) -> Fitted:
    """Return the trends where what the families have in common is known: normal errors, closed form.

    Source: the posterior of a normal linear model with normal priors.
    """
    work = _Work(histories)
    scatter = hyper.scatter[work.family]
    away = replace(hyper, level=hyper.level - work.zero[histories.kind])
    return _fitted(work, hyper, _lines(work, away, np.ones(len(work.y)), scatter), scatter)


def _first_guess(work):
    """Return hyperparameters to start from: the scatter of most results, not of the few that lie far out."""
    count = work.families
    step = np.diff(work.y)
    inside = (np.diff(work.given.series) == 0) & (np.diff(work.given.stretch) == 0)
    of_step = work.given.kind[work.of_result[1:]]
    scatter = np.ones(int(work.given.kind.max()) + 1)
    shares = step**2 / (work.base[1:] + work.base[:-1])
    order = np.lexsort((shares, of_step))
    order = order[inside[order]]
    kinds, begin, sizes = np.unique(of_step[order], return_index=True, return_counts=True)
    scatter[kinds] = np.maximum(shares[order][begin + sizes // 2] / 0.455, 1e-4)  # median of chi-square with 1 degree
    scatter = scatter[work.given.kind]
    unit = _means(work.base, work.of_result, count, work.sizes) * scatter
    level = _means(work.y, work.of_result, count, work.sizes)
    return Hyper(
        slope=np.zeros(count),
        slope_var=unit * DRIFT_IN_A_YEAR**2,
        level=level,
        level_var=unit * FREE_LEVEL**2,
        scatter=scatter,
        tails=np.full(count, TAILS[0]),
        slope_doubt=np.zeros(count),
        level_doubt=np.zeros(count),
    )


def _means(values, numbers, count, sizes):
    return np.bincount(numbers, weights=values, minlength=count) / np.maximum(sizes, 1)


@dataclass(slots=True)
class _Lines:
    """Posterior of slopes (of series) and levels (of stretches), given the hyperparameters and weights."""

    slope: NDArray[np.float64]
    slope_var: NDArray[np.float64]
    level: NDArray[np.float64]
    level_own_var: NDArray[np.float64]
    lever: NDArray[np.float64]  # a level falls by this for each unit of slope
    own: NDArray[np.float64]  # information on the slope from the series itself


def _lines(work, hyper, weights, scatter):
    precision = weights / (work.base * scatter[work.given.series])
    away = work.y - hyper.level[work.of_result]
    total = work.by_stretch(precision)
    first, cross = work.by_stretch(precision * work.x), work.by_stretch(precision * away)
    square, mixed = work.by_stretch(precision * work.x**2), work.by_stretch(precision * work.x * away)
    held = total + 1 / hyper.level_var[work.of_stretch]
    own = work.by_series(square - first**2 / held)
    pull = work.by_series(mixed - first * cross / held)
    slope_precision = own + 1 / hyper.slope_var[work.family]
    slope = (pull + (hyper.slope / hyper.slope_var)[work.family]) / slope_precision
    level = hyper.level[work.of_stretch] + (cross - slope[work.first] * first) / held
    return _Lines(slope, 1 / slope_precision, level, 1 / held, first / held, own)


def _squares(work, lines):
    """Return the expected square of the error of each result."""
    series = work.given.series
    level, own, lever = (np.repeat(one, work.lengths) for one in (lines.level, lines.level_own_var, lines.lever))
    away = work.y - level - lines.slope[series] * work.x
    return away**2 + own + lines.slope_var[series] * (work.x - lever) ** 2


def _learn(work, hyper, lines, scatter):
    """Estimate the hyperparameters from what the lines say, each family helped by its kind."""
    kind, families = work.given.kind, work.families
    series = np.bincount(work.family, minlength=families)
    stretches = np.bincount(work.of_stretch, minlength=families)
    rates = work.by_family(1 / scatter, work.family)
    hyper.scatter = 1 / _shared(kind, rates, series, np.ones(families), LENT_SCATTER)
    unit = hyper.scatter * _means(work.base, work.of_result, families, work.sizes)
    slopes = work.by_family(lines.slope, work.family)
    common = _by_kind(kind, slopes) / (_by_kind(kind, series) + 1)
    hyper.slope = (slopes + LENT_CENTRE * common[kind]) / (series + LENT_CENTRE)
    away = (lines.slope - hyper.slope[work.family]) ** 2 + lines.slope_var
    spread = work.by_family(away, work.family)
    hyper.slope_var = _shared(kind, spread, series, unit * DRIFT_IN_A_YEAR**2, LENT_SPREAD)
    hyper.level = work.by_family(lines.level, work.of_stretch) / np.maximum(stretches, 1)
    level_var = lines.level_own_var + lines.lever**2 * lines.slope_var[work.first]
    away = (lines.level - hyper.level[work.of_stretch]) ** 2 + level_var
    spread = work.by_family(away, work.of_stretch)
    hyper.level_var = _shared(kind, spread, stretches, unit * FREE_LEVEL**2, LENT_SPREAD)
    hyper.slope_doubt = hyper.slope_var / np.maximum(series, 1)
    hyper.level_doubt = hyper.level_var / np.maximum(stretches, 1)


def _by_kind(kind, values):
    return np.bincount(kind, weights=values)


def _shared(kind, sums, counts, expected, lent):
    """Return sums / counts of each family, with `lent` of its kind counted in, and one as expected in that."""
    number = _by_kind(kind, counts)
    guess = _by_kind(kind, expected * counts) / np.maximum(number, 1)
    common = (_by_kind(kind, sums) + guess) / (number + 1)
    return (sums + lent * common[kind]) / (counts + lent)


def _tails(work, share):
    """Return the degrees of freedom of TAILS under which the errors of each kind are likeliest."""
    kind = work.given.kind[work.of_result]
    likelihoods = []
    for tails in TAILS:
        constant = special.gammaln((tails + 1) / 2) - special.gammaln(tails / 2) - np.log(tails) / 2
        likelihoods.append(_by_kind(kind, constant - (tails + 1) / 2 * np.log1p(share / tails)))
    return np.array(TAILS)[np.argmax(likelihoods, axis=0)][work.given.kind]


def _fitted(work, hyper, lines, scatter):
    """Return the last stretch of each series, with what is not known of the centres of the families added."""
    last = np.append(work.series_starts[1:], len(work.starts)) - 1
    family, lever, own = work.family, lines.lever[last], lines.level_own_var[last]
    slope_pull = lines.slope_var / hyper.slope_var[family]
    level_pull = own / hyper.level_var[family]
    slope_var = lines.slope_var + slope_pull**2 * hyper.slope_doubt[family]
    base = work.by_series(work.by_stretch(work.base)) / work.counts
    return Fitted(
        middle=work.middle[last],
        level=lines.level[last] + work.zero[work.given.kind[family]],
        slope=lines.slope,
        level_var=own + lever**2 * slope_var + level_pull**2 * hyper.level_doubt[family],
        slope_var=slope_var,
        covariance=-lever * slope_var,
        base_variance=base,
        scatter=scatter,
        dof=1 / (1 / hyper.tails[family] + 1 / (LIKE_OTHERS + work.counts)),
        results=work.lengths[last],
        widening=np.ones(len(family)),
        hyper=hyper,
    )
