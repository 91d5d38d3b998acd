"""Are faults growing more frequent? Laplace's trend test on the days they came."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt
from statistics import NormalDist, fmean

FEWEST_EVENTS = 5  # below this the test has no power worth a verdict; common practice, no source
SHORTEST_DAYS = 365  # a shorter record shows a season, not a trend; common practice, no source
SIGNIFICANCE = 0.05  # one-sided; common practice, no source


@dataclass(frozen=True, slots=True)
class Trend:
    """Laplace statistic (standard normal without a trend; positive: events crowd towards the end) and its p value."""

    events: int
    days: float
    statistic: float
    p_value: float

    @property
    def is_worsening(self) -> bool:
        return self.p_value < SIGNIFICANCE


def laplace_trend(times: Sequence[float], duration: float) -> Trend:
    """Return the Laplace test of events at `times` within an observation that ended at `duration`, same unit.

    times  shape (n,), n >= 1, each 0 to duration; any order. p value one-sided for a rising rate.
    Raises ValueError. Source: NIST Dataplot reference manual, reliability trends test (seen):
    z = (mean of times - T/2) / (T sqrt(1 / 12n)), for observation ended by time, not by a failure.
    """
    if not times or not duration > 0:
        raise ValueError(f"a trend needs at least 1 event and a duration above 0, got {len(times)} in {duration!r}")
    if min(times) < 0 or max(times) > duration:
        raise ValueError(f"event times must lie within 0 and {duration:g}, got {min(times):g} to {max(times):g}")
    statistic = (fmean(times) - duration / 2) / (duration * sqrt(1 / (12 * len(times))))
    return Trend(len(times), duration, statistic, NormalDist().cdf(-statistic))


def trend_of_days(days: Sequence[date], first: date, last: date) -> Trend | None:
    """Return the trend of events on `days` in a record from `first` to `last`; None when the record shows too little.

    Days outside the record are left out; each counts at noon, since a day holds no hour.
    """
    times = [(day - first).days + 0.5 for day in days if first <= day <= last]
    duration = (last - first).days + 1
    if len(times) < FEWEST_EVENTS or duration < SHORTEST_DAYS:
        return None
    return laplace_trend(times, duration)
