"""The arithmetic of the flow laws: for one state with floats, for many states at once with arrays.

A law is written once, without branches of the program: `where` chooses. Both sides are computed, so each must be finite
on either side.
"""

import math
from typing import NamedTuple

from fleet.late import np


class Gas(NamedTuple):
    """What a law needs of a mixture: molar mass, kg/mol, and heat ratio cp/cv; floats or arrays."""

    molar_mass: float
    heat_ratio: float


def where(condition, one, other):
    """Return `one` where the condition holds, else `other`."""
    if condition is True:
        return one
    if condition is False:
        return other
    return np.where(condition, one, other)


def upstream(is_forward, mix_a, mix_b):
    """Return the gas at the end from which the flow comes."""
    if is_forward is True:
        return mix_a
    if is_forward is False:
        return mix_b
    return Gas(
        np.where(is_forward, mix_a.molar_mass, mix_b.molar_mass),
        np.where(is_forward, mix_a.heat_ratio, mix_b.heat_ratio),
    )


def within(x, low, high):
    """Return x, at least `low` and at most `high`."""
    return higher(lower(x, high), low)


def higher(x, y):
    """Return the higher of two numbers."""
    return max(x, y) if isinstance(x, float) and isinstance(y, float) else np.maximum(x, y)


def lower(x, y):
    """Return the lower of two numbers."""
    return min(x, y) if isinstance(x, float) and isinstance(y, float) else np.minimum(x, y)


def sqrt(x):
    return math.sqrt(x) if isinstance(x, float) else np.sqrt(x)


def exp(x):
    return math.exp(x) if isinstance(x, float) else np.exp(x)


def expm1(x):
    return math.expm1(x) if isinstance(x, float) else np.expm1(x)


def log1p(x):
    return math.log1p(x) if isinstance(x, float) else np.log1p(x)
