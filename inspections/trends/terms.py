"""A trend as plain numbers, to be stored, and back."""

from __future__ import annotations

from collections.abc import Sequence

from fleet.late import np, special

from .fitting import Fitted, nothing_common

TERMS = (
    "middle", "level", "slope", "level_var", "slope_var", "covariance", "base_variance", "scatter", "dof", "results",
    "widening",
)  # fmt: skip


def terms_of(fitted: Fitted, number: int) -> dict[str, float]:
    """Return the numbers of one series, from which `fitted_from` makes the same trend."""
    return {name: float(getattr(fitted, name)[number]) for name in TERMS}


def fitted_from(terms: Sequence[dict[str, float]]) -> Fitted:
    """Return stored trends, one a series; what the families have in common is not among them."""
    columns = {name: np.array([one[name] for one in terms], dtype=float) for name in TERMS}
    return Fitted(**columns | {"results": columns["results"].astype(np.intp)}, hyper=nothing_common())


def slope_interval(fitted: Fitted, probability: float = 0.9) -> tuple[np.ndarray, np.ndarray]:
    """Return the ends of the interval that holds the slope of each series, in a year.

    Raises ValueError for a probability outside 0 to 1.
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must lie between 0 and 1, got {probability!r}")
    half = special.stdtrit(fitted.dof, (1 + probability) / 2) * fitted.widening * np.sqrt(fitted.slope_var)
    return fitted.slope - half, fitted.slope + half
