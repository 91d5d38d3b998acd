"""Correction of readings by the points of a calibration certificate.

Between two points the error of the instrument is taken from the straight line between them; beyond the first and the
last nothing is known, so that a reading there is not corrected. Source: JCGM 100:2008, H.3 for the calibration of an
instrument by its corrections, F.2.4.5 for what a correction leaves uncertain.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt

from fleet.calibration.points import Point, merged
from fleet.late import np

from .json_shapes import listed_in, number, only

LEAST_POINTS = 2
MOST_POINTS = 120
_NAMES = ("certificate", "readings_si", "errors_si", "stds_si", "residual_si", "drift_si")


@dataclass(frozen=True, slots=True)
class Correction:
    """The errors of one scale by reading, in SI.

    certificate         by which it corrects
    readings_si         shape (n,), n >= 2, rising: what the instrument shows
    errors_si, stds_si  shape (n,): by how much that is too high, and the standard uncertainty of this
    residual_si         half width of what the straight lines between the points may miss
    drift_si            half width of the drift since the calibration as earlier ones show it; 0 if none is known
    replaces_accuracy   False where only the error counts, and the uncertainty stays that of the accuracy
    reaches_beyond      True where beyond the first and last point their error counts as a share of the reading, as for
                        an error that is suspected; else no reading beyond them is corrected
    """

    certificate: str
    readings_si: tuple[float, ...]
    errors_si: tuple[float, ...]
    stds_si: tuple[float, ...]
    residual_si: float = 0.0
    drift_si: float = 0.0
    replaces_accuracy: bool = field(default=True, kw_only=True)
    reaches_beyond: bool = field(default=False, kw_only=True)

    def __post_init__(self):
        lengths = {len(one) for one in (self.readings_si, self.errors_si, self.stds_si)}
        if len(self.readings_si) < LEAST_POINTS or len(lengths) > 1:
            raise ValueError(f"A correction needs {LEAST_POINTS} points or more, each with its error and uncertainty.")
        if any(b <= a for a, b in zip(self.readings_si, self.readings_si[1:], strict=False)):
            raise ValueError("The readings of a correction must rise: a scale that falls back cannot be corrected.")
        if min(*self.stds_si, self.residual_si, self.drift_si) < 0:
            raise ValueError("An uncertainty of a correction is below zero.")

    def covers(self, reading_si: float) -> bool:
        """Return whether a reading lies between the first and the last point, ends included."""
        if self.reaches_beyond:
            return True
        slack = 1e-9 * (self.readings_si[-1] - self.readings_si[0])
        return self.readings_si[0] - slack <= reading_si <= self.readings_si[-1] + slack

    def error_at(self, reading_si: float) -> float:
        """Return by how much a reading is too high; beyond the points in proportion to it, where that reaches."""
        beyond = 0 if reading_si < self.readings_si[0] else -1 if reading_si > self.readings_si[-1] else None
        if self.reaches_beyond and beyond is not None and self.readings_si[beyond] * reading_si > 0:
            return self.errors_si[beyond] * reading_si / self.readings_si[beyond]
        return float(np.interp(reading_si, self.readings_si, self.errors_si))

    def std_at(self, reading_si: float) -> float:
        """Return the standard uncertainty that the correction leaves: certificate, straight lines, drift."""
        own = float(np.interp(reading_si, self.readings_si, self.stds_si))
        return hypot(own, self.residual_si / sqrt(3), self.drift_si / sqrt(3))


def correction_of(
    points: Sequence[Point], certificate: str, *, factor: float, zero: float, drift: float = 0.0,
    replaces_accuracy: bool = True,
) -> Correction | None:  # fmt: skip
    """Return the correction of points in one unit, None if they are too few or fall back.

    factor, zero  SI value of a figure = number x factor + zero
    drift         half width, in the unit of the points
    """
    found = merged(points)
    readings = [reading for reading, _, _, _ in found]
    if len(found) < LEAST_POINTS or any(b <= a for a, b in zip(readings, readings[1:], strict=False)):
        return None
    errors = [error for _, error, _, _ in found]
    residual = max(_residual(readings, errors), max(spread for _, _, _, spread in found))
    return Correction(
        certificate,
        tuple(reading * factor + zero for reading in readings),
        tuple(error * factor for error in errors),
        tuple(std * factor for _, _, std, _ in found),
        residual * factor, drift * factor, replaces_accuracy=replaces_accuracy,
    )  # fmt: skip


def _residual(readings: Sequence[float], errors: Sequence[float]) -> float:
    """Return by how much the straight line between its neighbours misses a point, at most.

    That is about four times what the lines between the points themselves miss of a smooth curve: wide on purpose.
    Two points show no curve; half the difference of their errors is taken. Common practice, no source.
    """
    if len(readings) == LEAST_POINTS:
        return abs(errors[1] - errors[0]) / 2
    missed = [
        abs(errors[i] - float(np.interp(readings[i], readings[i - 1 : i + 2 : 2], errors[i - 1 : i + 2 : 2])))
        for i in range(1, len(readings) - 1)
    ]
    return max(missed)


def correction_to_dict(correction: Correction) -> dict:
    """Return a correction as plain values, fit for JSON, in SI."""
    lists = {name: list(getattr(correction, name)) for name in _NAMES[1:4]}
    return {"certificate": correction.certificate, **lists, "residual_si": correction.residual_si,
            "drift_si": correction.drift_si}  # fmt: skip


def correction_from_dict(data: Mapping, where: str) -> Correction:
    """Return the correction of plain values. Raises BenchError for another shape, ValueError for wrong figures."""
    data = only(data, _NAMES, where)
    arrays = {
        name: tuple(number(one, f"{where}.{name}") for one in listed_in(data.get(name) or (), where, MOST_POINTS))
        for name in _NAMES[1:4]
    }
    rest = {name: number(data.get(name, 0.0), f"{where}.{name}") for name in _NAMES[4:]}
    return Correction(str(data.get("certificate", "")), **arrays, **rest)
