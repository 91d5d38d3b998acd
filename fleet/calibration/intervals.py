"""The interval of calibration that an instrument's own as-found results support.

The methods are those that ILAC-G24:2022 / OIML D 10 lists: the staircase after each calibration, and the drift that a
control chart shows. Their titles were seen in the contents of the document; the steps below are from memory and common
practice, no source. In-use time, the third, needs hours of use, which nothing records.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import floor

from .points import NEAR, Point

DAYS_A_MONTH = 365.25 / 12
STAIRCASE = "Staircase"
DRIFT = "Drift"
WELL_WITHIN = 0.8  # share of the accuracy up to which the next interval may be longer; common practice, no source
LONGER, SHORTER = 1.25, 0.5  # steps of the staircase; common practice, no source
LEAST_MONTHS, MOST_MONTHS = 1, 120
LEAST_DRIFTS = 2


@dataclass(frozen=True, slots=True)
class ScaleResult:
    """What one calibration says of one scale, in the unit of the scale.

    found, left  points; allowed maps a reading to the half width of the accuracy, by place in found and left
    """

    scale: int
    found: tuple[tuple[Point, float], ...]
    left: tuple[tuple[Point, float], ...]


@dataclass(frozen=True, slots=True)
class Calibrated:
    """One calibration. was_within is as found, None where nothing says it; share is |error| / accuracy at the worst."""

    on: date
    months: float
    was_within: bool | None
    share: float | None = None
    scales: tuple[ScaleResult, ...] = ()


@dataclass(frozen=True, slots=True)
class Reason:
    method: str
    months: int
    words: str


@dataclass(frozen=True, slots=True)
class Recommendation:
    """months is None where no result supports an interval; is_capped where only the stated longest held it down."""

    months: int | None
    reasons: tuple[Reason, ...]
    is_capped: bool = False


def within_and_share(found: Sequence[tuple[Point, float]]) -> tuple[bool | None, float | None]:
    """Return whether points were surely within, each with its half width of the accuracy, and the largest share."""
    stated = [(point, allowed) for point, allowed in found if allowed > 0]
    if not stated:
        return None, None
    share = max((abs(point.error) + point.expanded) / allowed for point, allowed in stated)
    return all(abs(point.error) <= allowed * (1 + NEAR) for point, allowed in stated), share


def recommended(history: Sequence[Calibrated], *, current: int | None, longest: int | None) -> Recommendation:
    """Return the interval that the results support, the shortest of the methods, never beyond the longest.

    history           calibrations, the oldest first
    current, longest  months, as decided; without a current one that of the last calibration counts
    """
    reasons = [reason for reason in (_staircase(history, current), _drift(history)) if reason]
    if not reasons:
        return Recommendation(None, ())
    months = min(reason.months for reason in reasons)
    capped = longest is not None and months > longest
    return Recommendation(longest if capped else months, tuple(reasons), capped)


def _staircase(history: Sequence[Calibrated], current: int | None) -> Reason | None:
    """Return what the last as-found result says by itself."""
    judged = [one for one in history if one.was_within is not None]
    if not judged:
        return None
    last = judged[-1]
    months = current or max(1, round(history[-1].months))
    if not last.was_within:
        words, step = "it was outside its accuracy when it was found: half the interval", SHORTER
    elif last.share is None:
        words, step = "it was within, and no points say by how much: the interval stays", 1.0
    elif last.share <= WELL_WITHIN:
        words, step = f"error and uncertainty took {100 * last.share:.0f} % of the accuracy: a quarter longer", LONGER
    else:
        words, step = f"error and uncertainty took {100 * last.share:.0f} % of the accuracy: the interval stays", 1.0
    return Reason(STAIRCASE, _months(months * step), f"At the last calibration {words}.")


def _drift(history: Sequence[Calibrated]) -> Reason | None:
    """Return after how many months the fastest drift seen takes the worst point out of the accuracy."""
    pairs = list(zip(history, history[1:], strict=False))
    rates = [rate for before, after in pairs for rate in [_rate(before, after)] if rate is not None]
    rooms = [room for one in history[-1:] for scale in one.scales for room in _rooms(scale)]
    if len(rates) < LEAST_DRIFTS or not rooms:
        return None
    fastest, room = max(rates), min(rooms)
    if fastest <= 0:
        return Reason(DRIFT, MOST_MONTHS, "No drift was found between calibrations.")
    words = (
        f"The fastest of {len(rates)} drifts took {100 * fastest:.3g} % of the accuracy a month; the last calibration "
        f"left {100 * max(room, 0):.0f} % of it free."
    )
    return Reason(DRIFT, _months(room / fastest), words)


def _rate(before: Calibrated, after: Calibrated) -> float | None:
    """Return the fastest drift from what was left to what was found, in shares of the accuracy a month."""
    months = (after.on - before.on).days / DAYS_A_MONTH
    left = {(s.scale, round(p.reference, 9)): p for s in before.scales for p, _ in s.left}
    moved = [
        abs(point.error - left[key].error) / allowed
        for scale in after.scales
        for point, allowed in scale.found
        if allowed > 0 and (key := (scale.scale, round(point.reference, 9))) in left
    ]
    return max(moved) / months if moved and months > 0 else None


def _rooms(scale: ScaleResult) -> list[float]:
    """Return how much of the accuracy each point leaves free after error and uncertainty."""
    return [1 - (abs(p.error) + p.expanded) / allowed for p, allowed in scale.left if allowed > 0]


def drift_of(before: Sequence[Point], after: Sequence[Point]) -> float | None:
    """Return the largest change of error from what was left to what was found next, in their unit; None if no pair."""
    left = {round(point.reference, 9): point for point in before}
    moved = [abs(p.error - left[round(p.reference, 9)].error) for p in after if round(p.reference, 9) in left]
    return max(moved, default=None)


def _months(months: float) -> int:
    return int(min(max(floor(months + 1e-9), LEAST_MONTHS), MOST_MONTHS))
