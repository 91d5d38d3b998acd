"""What a fitted trend predicts at other times: value, scale, degrees of freedom, and probabilities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fleet.late import np, special

from .fitting import Fitted

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Predicted:
    """Predicted results, arrays of one length: Student's t about `value` with `scale` and `dof` degrees of freedom.

    level_var, slope_var  squares of what is not known of the drift: the level, and the slope with what both share
    machine_var           of what the machine itself varies by from visit to visit
    measured_var          of what the measurement varies by; the four add up to scale squared
    """

    value: NDArray[np.float64]
    scale: NDArray[np.float64]
    dof: NDArray[np.float64]
    level_var: NDArray[np.float64]
    slope_var: NDArray[np.float64]
    machine_var: NDArray[np.float64]
    measured_var: NDArray[np.float64]

    def interval(self, probability: float = 0.9) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the ends of the interval that holds the result with this probability.

        Raises ValueError for a probability outside 0 to 1.
        """
        if not 0 < probability < 1:
            raise ValueError(f"probability must lie between 0 and 1, got {probability!r}")
        half = special.stdtrit(self.dof, (1 + probability) / 2) * self.scale
        return self.value - half, self.value + half

    def outside(self, lower: ArrayLike, upper: ArrayLike, *, measured: bool = True) -> NDArray[np.float64]:
        """Return the probability that the result lies below `lower` or above `upper` (nan where there is no limit).

        measured  without it, as if the measurement added nothing: what the drift alone makes of it
        """
        scale = self.scale if measured else np.sqrt(np.maximum(self.scale**2 - self.measured_var, 0.0))
        return _outside(self.value, scale, self.dof, np.asarray(lower, float), np.asarray(upper, float))

    def surprise(self, values: ArrayLike) -> NDArray[np.float64]:
        """Return the probability of a result at least as far from the predicted value on either side."""
        away = np.abs(np.asarray(values, dtype=float) - self.value)
        return 2 * special.stdtr(self.dof, -away / self.scale)

    def log_density(self, values: ArrayLike) -> NDArray[np.float64]:
        """Return the logarithm of the density of these results: the log score, per unit of the values."""
        away, dof = (np.asarray(values, dtype=float) - self.value) / self.scale, self.dof
        constant = (
            special.gammaln((dof + 1) / 2) - special.gammaln(dof / 2) - np.log(dof * np.pi) / 2 - np.log(self.scale)
        )
        return constant - (dof + 1) / 2 * np.log1p(away**2 / dof)


def _outside(value, scale, dof, lower, upper):
    with np.errstate(divide="ignore", invalid="ignore"):
        below = np.where(np.isnan(lower), 0.0, special.stdtr(dof, (lower - value) / scale))
        above = np.where(np.isnan(upper), 0.0, special.stdtr(dof, (value - upper) / scale))
    certain = ((lower > value) | (upper < value)).astype(float)
    return np.where(scale > 0, np.minimum(below + above, 1.0), certain)


def predicted(
    fitted: Fitted, years: ArrayLike, *, series: ArrayLike | None = None, variances: ArrayLike | None = None
) -> Predicted:
    """Return what is predicted at `years`, one for each of `series` (all of them if not given).

    variances  stated for the results predicted, square of the unit of the values; as before if not given
    """
    chosen = np.arange(len(fitted.level)) if series is None else np.asarray(series, dtype=np.intp)
    x = np.asarray(years, dtype=float) - fitted.middle[chosen]
    base = fitted.base_variance[chosen] if variances is None else np.asarray(variances, dtype=float)
    wider, scatter = fitted.widening[chosen] ** 2, fitted.scatter[chosen]
    level = wider * fitted.level_var[chosen]
    slope = wider * (2 * fitted.covariance[chosen] * x + fitted.slope_var[chosen] * x**2)
    machine = wider * base * np.maximum(scatter - 1, 0.0)
    measured = wider * base * np.minimum(scatter, 1.0)
    return Predicted(
        value=fitted.level[chosen] + fitted.slope[chosen] * x,
        scale=np.sqrt(level + slope + machine + measured),
        dof=fitted.dof[chosen],
        level_var=level,
        slope_var=slope,
        machine_var=machine,
        measured_var=measured,
    )
