"""The interval of calibration that the stored results of an instrument support."""

from fleet.calibration.intervals import DAYS_A_MONTH, Calibrated, ScaleResult, recommended, within_and_share
from fleet.certificates.errors import errors_of
from fleet.models import Calibration

NEWEST = 20  # calibrations that count; older ones say little of an instrument


def recommended_interval(instrument, calibrations, scales):
    """Return the Recommendation for an instrument from its calibrations, the newest first."""
    history = [_calibrated(one, scales) for one in reversed(list(calibrations)[:NEWEST])]
    return recommended(history, current=instrument.interval_months, longest=instrument.longest_interval_months)


def _calibrated(calibration, scales):
    results = [
        ScaleResult(one.scale.pk, *(tuple((p.point, p.allowed) for p in points) for points in (one.found, one.left)))
        for one in errors_of(calibration, scales)
    ]
    was_within, share = within_and_share([pair for result in results for pair in result.found])
    if was_within is None:
        was_within = calibration.result == Calibration.Result.WITHIN
    months = (calibration.due_on - calibration.calibrated_on).days / DAYS_A_MONTH
    return Calibrated(calibration.calibrated_on, months, was_within, share, tuple(results))
