"""Exposure of a fleet at the ends of quarters: which hazards machines leave open, by weight. Plain Python."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

MONTHS = (3, 6, 9, 12)


def quarter_ends(first: date, last: date) -> tuple[date, ...]:
    """Return the last days of the quarters from `first` to `last`, both included where they are such days."""
    days = [
        date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)
        for year in range(first.year, last.year + 1)
        for month in MONTHS
    ]
    return tuple(day for day in days if first <= day <= last)


@dataclass(frozen=True, slots=True)
class Standing:
    """A machine in service on a day: the expected share of each hazard that is open, 1 for certain; None: not known."""

    weights: Mapping[str, float]
    is_open: Mapping[str, float] | None


@dataclass
class Sums:
    """Added up over the machines of one day.

    points    hazard -> sum of weights, each times the share that is open
    machines  hazard -> number of machines that leave it open, expected
    """

    in_service: int = 0
    known: int = 0
    points: dict[str, float] = field(default_factory=dict)
    machines: dict[str, float] = field(default_factory=dict)


def summed(standings: Iterable[Standing]) -> Sums:
    """Return the sums over the machines of one day. Raises ValueError for a share outside 0 to 1."""
    sums = Sums()
    for each in standings:
        sums.in_service += 1
        if each.is_open is None:
            continue
        sums.known += 1
        for hazard, share in each.is_open.items():
            if not 0 <= share <= 1:
                raise ValueError(f"a share lies between 0 and 1, got {share!r} for {hazard}")
            sums.points[hazard] = sums.points.get(hazard, 0.0) + share * each.weights.get(hazard, 0.0)
            sums.machines[hazard] = sums.machines.get(hazard, 0.0) + share
    return sums


def either(shares: Sequence[float]) -> float:
    """Return the chance that at least one of independent things with these chances holds."""
    none = 1.0
    for share in shares:
        none *= 1 - share
    return 1 - none
