"""Simulated fleets: results of machines of several models that drift, with errors of known size."""

import numpy as np

from inspections.trends import Histories

FAMILIES = 6


def drifting(seed, *, series=60, count=6, error=0.5, slopes=0.3, tails=None):
    """Return arrays of a fleet: times, true slopes, values, families. `tails` are degrees of freedom of the errors."""
    rng = np.random.default_rng(seed)
    family = np.arange(series) % FAMILIES
    slope = np.linspace(-1, 1, FAMILIES)[family] + rng.normal(0, slopes, series)
    level = rng.normal(0, 3, series)
    years = np.cumsum(rng.uniform(0.4, 1.2, (series, count)), axis=1)
    noise = rng.normal(size=(series, count)) if tails is None else rng.standard_t(tails, (series, count))
    return years, slope, level[:, None] + slope[:, None] * years + error * noise, family


def histories(years, values, std, family, stretch=None):
    """Return Histories of one kind from arrays of one row a series."""
    series = np.repeat(np.arange(len(years)), years.shape[1])
    spread = np.broadcast_to(np.asarray(std, dtype=float), years.shape).ravel()
    flat = None if stretch is None else stretch.ravel()
    kind = np.zeros(int(family.max()) + 1, dtype=int)
    return Histories.of(series, years.ravel(), values.ravel(), spread, stretch=flat, family=family, kind=kind)
