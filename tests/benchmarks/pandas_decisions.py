"""The decisions of ILAC-G8 with a guard band of U, as two plain pandas scripts: the comparison of bench_decisions.

0 pass, 1 conditional pass, 2 conditional fail, 3 fail, 4 not decided.
"""

import numpy as np
import pandas as pd
from scipy import stats


def frame_of(measured):
    columns = ("values", "std", "expanded", "dof")
    return pd.DataFrame({name.removesuffix("s"): getattr(measured, name) for name in columns})


def by_columns(frame, limit):
    low, high = limit.lower_si, limit.upper_si
    inside = pd.concat([frame.value - low, high - frame.value], axis=1).min(axis=1)
    decision = pd.Series(3, index=frame.index)
    decision[inside + frame.expanded >= 0] = 2
    decision[inside >= 0] = 1
    decision[inside - frame.expanded >= 0] = 0
    upper, lower = (
        stats.t.cdf((high - frame.value) / frame["std"], frame.dof),
        stats.t.cdf((low - frame.value) / frame["std"], frame.dof),
    )
    probability = pd.Series(upper - lower, index=frame.index)
    is_conditional = decision.isin([1, 2])
    is_coarse = frame.expanded > (high - low) / 2
    decision[is_conditional & (is_coarse | ((decision == 1) & (probability < limit.floor)))] = 4
    return decision.to_numpy()


def by_rows(frame, limit):
    return frame.apply(lambda row: _decided(row, limit.lower_si, limit.upper_si, limit.floor), axis=1).to_numpy()


def _decided(row, low, high, floor):
    inside = min(row.value - low, high - row.value)
    if inside - row.expanded >= 0:
        return 0
    if inside + row.expanded < 0:
        return 3
    decision = 1 if inside >= 0 else 2
    if row.expanded > (high - low) / 2:
        return 4
    spread = stats.t if np.isfinite(row.dof) else stats.norm
    ends = ((high - row.value) / row["std"], (low - row.value) / row["std"])
    upper, lower = (spread.cdf(one, row.dof) if spread is stats.t else spread.cdf(one) for one in ends)
    return 4 if decision == 1 and upper - lower < floor else decision
