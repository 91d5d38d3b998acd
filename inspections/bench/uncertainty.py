"""Uncertainty of measurement after the GUM (JCGM 100:2008)."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import erf, floor, inf, isinf, sqrt

import numpy as np
from scipy import stats

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


@lru_cache(maxsize=256)
def coverage_factor(dof: float = inf, probability: float = COVERAGE_PROBABILITY) -> float:
    """Return k from Student's t; dof is cut down to a whole number, at least 1.

    Raises ValueError for a probability outside 0 to 1 or dof <= 0. Source: JCGM 100:2008, G.3.2, G.4.1.
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must lie between 0 and 1, got {probability!r}")
    if not dof > 0:
        raise ValueError(f"dof must be above zero, got {dof!r}")
    tail = (1 + probability) / 2
    if isinf(dof):
        return 2.0 if probability == COVERAGE_PROBABILITY else float(stats.norm.ppf(tail))
    return float(stats.t.ppf(tail, max(1, floor(dof + 1e-9))))
