"""Results of many machines over time as flat arrays: what the trends are fitted to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.late import np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


LEAST_SHARE = 0.1
"""A stated uncertainty counts as at least this share of the family's, so that no single result decides alone;
common practice, no source."""
SMALLEST = 1e-9  # of the spread of a kind: below it a difference is rounding of the computer


@dataclass(frozen=True, slots=True)
class Histories:
    """n results of S series (one test of one machine each) of F families (one test of one model), of K kinds of test.

    series   shape (n,), 0 to S - 1, ascending
    years    shape (n,), time of each result from any zero, ascending within a series
    values   shape (n,), in any one unit for each kind
    std      shape (n,), standard uncertainty of each, same unit, 0 where not known
    stretch  shape (n,), ascending within a series: it changes where a repair makes earlier levels a thing of the past
    family   shape (S,), 0 to F - 1
    kind     shape (F,), 0 to K - 1
    """

    series: NDArray[np.intp]
    years: NDArray[np.float64]
    values: NDArray[np.float64]
    std: NDArray[np.float64]
    stretch: NDArray[np.intp]
    family: NDArray[np.intp]
    kind: NDArray[np.intp]

    @classmethod
    def of(
        cls,
        series: ArrayLike,
        years: ArrayLike,
        values: ArrayLike,
        std: ArrayLike,
        *,
        stretch: ArrayLike | None = None,
        family: ArrayLike | None = None,
        kind: ArrayLike | None = None,
    ) -> Histories:
        """Return the arrays; without `family` and `kind` all series are of one. Raise ValueError for what does not fit.

        Results need not be in order: they are sorted by series, stretch and time.
        """
        numbers, times, found, spread = _columns(series, years, values, std)
        stretches = np.zeros(len(numbers), dtype=np.intp) if stretch is None else np.asarray(stretch, dtype=np.intp)
        order = np.lexsort((times, stretches, numbers))
        arrays = [one[order] for one in (numbers, times, found, spread, stretches)]
        count = int(numbers.max(initial=-1)) + 1
        families = np.zeros(count, dtype=np.intp) if family is None else np.asarray(family, dtype=np.intp)
        width = int(families.max(initial=-1)) + 1
        kinds = np.zeros(width, dtype=np.intp) if kind is None else np.asarray(kind, dtype=np.intp)
        if len(np.unique(numbers)) != count or len(families) != count or len(kinds) < width:
            raise ValueError(f"{count} series need a result each, a family each, and every family a kind.")
        return cls(*arrays, families, kinds)

    @property
    def count(self) -> int:
        """The number of series."""
        return len(self.family)

    def starts_of_stretches(self) -> NDArray[np.intp]:
        """Return where each stretch begins: at the first result of a series and after each repair."""
        is_new = np.ones(len(self.series), dtype=bool)
        is_new[1:] = (np.diff(self.series) != 0) | (np.diff(self.stretch) != 0)
        return np.flatnonzero(is_new)

    def base_variances(self) -> NDArray[np.float64]:
        """Return the variance that the stated uncertainty of each result gives it, before the scatter is known.

        Where no result of a family has an uncertainty, all have the variance of the steps of its kind from one to the
        next. Never zero.
        """
        family = self.family[self.series]
        mean = _means(self.std**2, family, len(self.kind))
        known = np.maximum(self.std**2, LEAST_SHARE**2 * mean[family])
        steps = self._step_variances()[self.kind[family]]
        return np.where(mean[family] > 0, np.maximum(known, SMALLEST**2 * steps), steps)

    def _step_variances(self):
        """Return for each kind half the mean square of the steps between successive results; 1 where all are alike."""
        kinds = int(self.kind.max(initial=-1)) + 1
        kind = self.kind[self.family[self.series]]
        inside = (np.diff(self.series) == 0) & (np.diff(self.stretch) == 0)
        found = _means(np.diff(self.values)[inside] ** 2 / 2, kind[1:][inside], kinds)
        size = _means(self.values**2, kind, kinds)
        found = np.where(found > SMALLEST**2 * size, found, SMALLEST**2 * size)
        return np.where(found > 0, found, 1.0)

    def do_vary(self) -> NDArray[np.bool_]:
        """Return for each kind whether any of its series ever changed within a stretch, shape (K,)."""
        inside = (np.diff(self.series) == 0) & (np.diff(self.stretch) == 0)
        near = SMALLEST * (np.abs(self.values[1:]) + np.abs(self.values[:-1]))
        changed = inside & (np.abs(np.diff(self.values)) > near)
        kinds = self.kind[self.family[self.series[1:]]]
        return np.bincount(kinds[changed], minlength=int(self.kind.max(initial=-1)) + 1) > 0


def _columns(series, years, values, std):
    numbers = np.asarray(series, dtype=np.intp)
    floats = [np.asarray(one, dtype=float) for one in (years, values, std)]
    if any(one.shape != numbers.shape or one.ndim != 1 for one in floats):
        raise ValueError(f"series, years, values and std need one length, got {[len(one) for one in floats]}.")
    if not all(np.isfinite(one).all() for one in floats) or (floats[2] < 0).any() or (numbers < 0).any():
        raise ValueError("Times, values and uncertainties must be finite, and no uncertainty or number below zero.")
    return numbers, *floats


def _means(values, numbers, count):
    """Return the mean of the values of each number, 0 where there are none."""
    total = np.bincount(numbers, weights=values, minlength=count)
    return total / np.maximum(np.bincount(numbers, minlength=count), 1)
