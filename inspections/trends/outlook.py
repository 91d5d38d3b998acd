"""What a trend means for a limit: the chance of being outside when next due, since when, and what would help."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from fleet.late import np

from .fitting import Fitted
from .predicting import Predicted, predicted

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

POLICY = 0.05  # chance of being outside a limit that calls for somebody; common practice, no source
HORIZON = 10.0  # years beyond which nothing is foretold; common practice, no source
STEPS, HALVINGS = 20, 8  # half a year, and that to a day


class Advice(StrEnum):
    NOTHING = "nothing"
    COME_EARLIER = "come earlier"
    MEASURE_BETTER = "measure better"


@dataclass(frozen=True, slots=True)
class Outlook:
    """For each series, at its due date: the prediction, and the chance of a result outside the limits.

    without_measuring  the same chance if the measurement added nothing to the drift
    beyond             when the chance first passes the policy, in years on the scale of the histories; nan if never
    advice             shape (S,), numbers of the members of Advice in their order
    """

    due: Predicted
    chance: NDArray[np.float64]
    without_measuring: NDArray[np.float64]
    beyond: NDArray[np.float64]
    advice: NDArray[np.intp]


def outlook(
    fitted: Fitted, due: ArrayLike, lower: ArrayLike, upper: ArrayLike, *, now: float, policy: float = POLICY
) -> Outlook:
    """Return the outlook of all series.

    due           shape (S,), years
    lower, upper  shape (S,), limits in the unit of the values, nan for none
    now           years; no date before it is given
    Raises ValueError for a policy outside 0 to 1.
    """
    if not 0 < policy < 1:
        raise ValueError(f"The policy is a chance between 0 and 1, got {policy!r}.")
    low, high = (np.broadcast_to(np.asarray(one, dtype=float), fitted.level.shape) for one in (lower, upper))
    at_due = predicted(fitted, np.asarray(due, dtype=float))
    chance = at_due.outside(low, high)
    without = at_due.outside(low, high, measured=False)
    advice = np.where(chance <= policy, 0, np.where(without > policy, 1, 2))
    return Outlook(at_due, chance, without, _first_beyond(fitted, low, high, now, policy), advice)


def _first_beyond(fitted, lower, upper, now, policy):
    """Return the first time from now on at which the chance passes the policy, to a day; nan beyond the horizon."""
    found = np.full(len(fitted.level), np.nan)
    judged = np.flatnonzero(~np.isnan(lower) | ~np.isnan(upper))

    def is_beyond(series, years):
        return predicted(fitted, years, series=series).outside(lower[series], upper[series]) > policy

    already = is_beyond(judged, np.full(len(judged), now))
    found[judged[already]] = now
    waiting = judged[~already]
    for number in range(1, STEPS + 1):
        end = now + HORIZON * number / STEPS
        passed = is_beyond(waiting, np.full(len(waiting), end))
        series, waiting = waiting[passed], waiting[~passed]
        low, high = np.full(len(series), end - HORIZON / STEPS), np.full(len(series), end)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            beyond = is_beyond(series, middle)
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        found[series] = high
    return found
