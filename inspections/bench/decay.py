"""Pressure decay: how fast the pressure falls at a pressure, by a laminar or an orifice leak.

With a constant capacity C (m3 of ambient gas per Pa), a leak Q(p) gives dp/dt = -Q(p) / C:
laminar, Q ~ p:        p = p0 exp(-k t)
orifice, Q ~ sqrt(p):  sqrt(p) = sqrt(p0) - k t
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, inf, sqrt

from fleet.late import np

LAMINAR, ORIFICE = "laminar", "orifice"


@dataclass(frozen=True, slots=True)
class Fit:
    """One model laid through a decay.

    kind      "laminar" or "orifice"
    start_pa  gauge pressure at time 0
    rate      k: 1/s for laminar, Pa^0.5/s for orifice; negative if the pressure rises
    rate_std  standard uncertainty of the rate from the scatter about the curve, 0 for two points
    dof       degrees of freedom of that
    misfit    root-mean-square distance of the readings from the curve, Pa
    """

    kind: str
    start_pa: float
    rate: float
    rate_std: float
    dof: float
    misfit: float

    def fall_rate(self, pressure_pa: float, rate: float | None = None) -> float:
        """Return -dp/dt at a gauge pressure > 0, in Pa/s."""
        rate = self.rate if rate is None else rate
        return rate * pressure_pa if self.kind == LAMINAR else 2 * rate * sqrt(pressure_pa)

    def fall_rate_std(self, pressure_pa: float) -> float:
        """Return the standard uncertainty of the fall rate that scatter about the curve leaves, in Pa/s."""
        return self.fall_rate(pressure_pa, self.rate_std)

    def pressure(self, time_s: float) -> float:
        """Return the gauge pressure at a time, in Pa."""
        if self.kind == LAMINAR:
            return self.start_pa * exp(-self.rate * time_s)
        return max(0.0, sqrt(self.start_pa) - self.rate * time_s) ** 2


def fit_decay(kind: str, times_s: Sequence[float], pressures_pa: Sequence[float]) -> Fit:
    """Return a model fitted by weighted least squares, weighted so that all readings count alike in Pa.

    times_s, pressures_pa  shape (n,), n >= 2 at 2 different times or more; readings at or below zero
                           gauge say nothing of the rate and are left out
    Raises ValueError if fewer than two readings at different times are above zero.
    """
    return _fit(kind, tuple(map(float, times_s)), tuple(map(float, pressures_pa)))


@lru_cache(maxsize=512)
def _fit(kind: str, times_s: tuple[float, ...], pressures_pa: tuple[float, ...]) -> Fit:
    """A leak, its mean, its standard volume and the capacity ask for the same fits, under each limit again."""
    times, pressures = np.asarray(times_s, dtype=float), np.asarray(pressures_pa, dtype=float)
    times, pressures = times[pressures > 0], pressures[pressures > 0]
    if len(set(times)) < 2:
        raise ValueError("a decay needs pressures above zero at 2 different times or more")
    laminar = kind == LAMINAR
    base = np.log(pressures[0]) if laminar else np.sqrt(pressures[0])
    heights = (np.log(pressures) if laminar else np.sqrt(pressures)) - base
    weights = pressures**2 if laminar else 4 * pressures
    middle = np.average(times, weights=weights)
    squares = float((weights * (times - middle) ** 2).sum())
    slope = float((weights * (times - middle) * heights).sum() / squares)  # exactly 0 for a flat decay
    start = base + np.average(heights, weights=weights) - slope * middle
    errors = heights - (start - base + slope * times)
    dof = len(times) - 2
    scatter = sqrt(float((weights * errors**2).sum()) / dof / squares) if dof else 0.0
    begin = exp(start) if laminar else max(0.0, start) ** 2
    plain = Fit(kind, begin, 0.0 - slope, scatter, dof or inf, 0.0)
    misfit = sqrt(float(np.mean([(plain.pressure(t) - p) ** 2 for t, p in zip(times, pressures, strict=True)])))
    return Fit(kind, begin, 0.0 - slope, scatter, dof or inf, misfit)


def fit_better(times_s: Sequence[float], pressures_pa: Sequence[float]) -> tuple[Fit, Fit, bool]:
    """Return (the model taken, the other one, whether the readings distinguish them).

    Readings distinguish them if they are at 3 or more different times and one misfit is less than half of the other.
    Otherwise laminar is taken, since it gives the larger leak at full pressure.
    """
    laminar, orifice = (fit_decay(kind, times_s, pressures_pa) for kind in (LAMINAR, ORIFICE))
    is_enough = len(set(times_s)) >= 3
    if is_enough and orifice.misfit < 0.5 * laminar.misfit:
        return orifice, laminar, True
    return laminar, orifice, is_enough and laminar.misfit < 0.5 * orifice.misfit


def molar_leak(
    volume_m3: float, start_pa_abs: float, start_k: float, end_pa_abs: float, end_k: float, duration_s: float
) -> float:
    """Return what a rigid volume lost, in mol/s; negative if it gained, as in a vacuum decay.

    Raises ValueError if the duration is not above zero. Source: 40 CFR 1065.644.
    """
    if not duration_s > 0:
        raise ValueError(f"duration_s must be above zero, got {duration_s!r}")
    return volume_m3 / GAS_CONSTANT * (start_pa_abs / start_k - end_pa_abs / end_k) / duration_s


GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact
STANDARD_PA_ABS, STANDARD_K = 101_325.0, 293.15


def ambient_flow(moles_per_s: float, ambient_pa_abs: float, temperature_k: float) -> float:
    """Return a molar flow as a volume flow at ambient pressure and temperature, in m3/s (ideal gas)."""
    return moles_per_s * GAS_CONSTANT * temperature_k / ambient_pa_abs


def standard_flow(flow_m3_s: float, ambient_pa_abs: float, temperature_k: float) -> float:
    """Return an ambient volume flow as one at 20 °C and 101.325 kPa, in m3/s (ideal gas)."""
    return flow_m3_s * ambient_pa_abs / STANDARD_PA_ABS * STANDARD_K / temperature_k


def without_cooling(
    times_s: Sequence[float], pressures_pa: Sequence[float], ambient_pa_abs: float, start_k: float, end_k: float
) -> list[float]:
    """Return gauge pressures as they would be had the gas kept its first temperature.

    The temperature is taken to change evenly over the decay. Source: ideal gas, p/T constant in a closed volume.
    """
    begin, took = times_s[0], times_s[-1] - times_s[0]
    corrected = []
    for time, pressure in zip(times_s, pressures_pa, strict=True):
        kelvin = start_k + (end_k - start_k) * ((time - begin) / took if took else 0.0)
        corrected.append((pressure + ambient_pa_abs) * start_k / kelvin - ambient_pa_abs)
    return corrected
