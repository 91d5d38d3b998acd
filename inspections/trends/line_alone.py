"""A straight line through the results of one machine alone, each with its known uncertainty."""

from collections.abc import Sequence
from math import inf, isinf, sqrt

from fleet.late import np

from .fitting import Fitted, nothing_common


def line_alone(years: Sequence[float], values: Sequence[float], std: Sequence[float], dof: float = inf) -> Fitted:
    """Return the weighted least-squares line of one series, with nothing of other machines in it.

    years, values  shape (n,), n >= 2, at least 2 different times
    std            standard uncertainty of each value, above 0, same unit; the prediction has their mean square
    dof            degrees of freedom of the uncertainties, inf where they are well known
    Raises ValueError for too few points or an uncertainty of zero. Source: JCGM 100:2008, H.3, with the weights of
    NIST/SEMATECH e-Handbook 4.1.4.3 (weights 1/u^2).
    """
    x, y, u = (np.asarray(one, dtype=float) for one in (years, values, std))
    if len(x) < 2 or np.ptp(x) == 0 or not (u > 0).all():
        raise ValueError(f"a line needs 2 results at different times, each with an uncertainty, got {list(years)!r}")
    weights = 1 / u**2
    middle = float((weights * x).sum() / weights.sum())
    square = float((weights * (x - middle) ** 2).sum())
    slope = float((weights * (x - middle) * y).sum() / square)

    def one(number):
        return np.array([number])

    return Fitted(
        middle=one(middle),
        level=one(float((weights * y).sum() / weights.sum())),
        slope=one(slope),
        level_var=one(1 / float(weights.sum())),
        slope_var=one(1 / square),
        covariance=one(0.0),
        base_variance=one(float((u**2).mean())),
        scatter=one(1.0),
        dof=one(1e9 if isinf(dof) else dof),
        results=one(len(x)),
        widening=one(1.0),
        hyper=nothing_common(),
    )


def scatter_about(fitted: Fitted, years: Sequence[float], values: Sequence[float]) -> float:
    """Return the standard deviation of the points about their line, with n - 2 degrees of freedom.

    Raises ValueError for fewer than 3 points. Source: JCGM 100:2008, H.3.2, equation (H.13f).
    """
    if len(years) < 3:
        raise ValueError(f"the scatter about a line needs 3 points, got {len(years)}")
    x, y = np.asarray(years, dtype=float), np.asarray(values, dtype=float)
    away = y - fitted.level[0] - fitted.slope[0] * (x - fitted.middle[0])
    return sqrt(float((away**2).sum()) / (len(x) - 2))
