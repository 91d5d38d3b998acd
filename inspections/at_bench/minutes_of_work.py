"""How long an inspection took, proposed from the times at which something was entered. A person states the figure."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from inspections.models import Photograph, Reading, StepRemark
from inspections.models.inspections import MOST_MINUTES

BREAK = timedelta(minutes=30)  # a longer time without an entry is a break


@dataclass(frozen=True, slots=True)
class ProposedMinutes:
    """`minutes` from `start` to `end`, `left_out` of them in breaks."""

    minutes: int
    start: datetime
    end: datetime
    left_out: int


def proposed_minutes(inspection) -> ProposedMinutes:
    """Propose the minutes of an inspection from its start and its entries. Three queries."""
    readings = Reading.objects.filter(step__inspection=inspection).values_list("entered_at", flat=True)
    remarks = StepRemark.objects.filter(step__inspection=inspection).values_list("at", flat=True)
    photographs = Photograph.objects.filter(step__inspection=inspection).values_list("at", flat=True)
    return from_moments([inspection.opened_at, *readings.distinct().order_by(), *remarks, *photographs])


def from_moments(moments) -> ProposedMinutes:
    """Add up the times between entries that are no breaks; at least a minute, at most a day."""
    moments = sorted(moments)
    gaps = [later - earlier for earlier, later in zip(moments, moments[1:], strict=False)]
    worked = sum((gap for gap in gaps if gap <= BREAK), timedelta())
    left_out = sum((gap for gap in gaps if gap > BREAK), timedelta())
    minutes = min(max(ceil(worked / timedelta(minutes=1)), 1), MOST_MINUTES)
    return ProposedMinutes(minutes, moments[0], moments[-1], round(left_out / timedelta(minutes=1)))
