"""A stored exposure over time, for tests that need one to look at."""

from inspections.models import ExposureHistory
from tests.factories import NOON

DAYS, AHEAD = ["2026-06-30", "2026-09-30", "2026-11-02"], ["2026-12-31", "2027-03-31"]


def make_exposure(site, choice, person, at=NOON):
    """Two hazards on three days, and two quarters ahead under two decisions; the numbers are invented."""
    past = {
        "in_service": [2, 2, 2], "known": [1, 2, 2],
        "points": {"barotrauma": [8.0, 16.0, 8.0], "disconnection": [0.0, 7.0, 7.0]},
        "machines": {"barotrauma": [1, 2, 1], "disconnection": [0, 1, 1]},
    }  # fmt: skip
    keep = {
        "in_service": [2, 2], "known": [2, 2], "points": {"barotrauma": [8.0, 8.4], "disconnection": [7.0, 7.0]},
        "machines": {"barotrauma": [1.0, 1.05], "disconnection": [1.0, 1.0]},
    }  # fmt: skip
    done = {**keep, "points": {"barotrauma": [8.0, 0.4], "disconnection": [7.0, 0.0]}}
    result = {
        "days": DAYS, "past": past, "ahead_days": AHEAD, "ahead": {"keep": keep, "choice": done},
        "circuits": {"computed": 2, "left": 1},
    }  # fmt: skip
    return ExposureHistory.objects.create(site=site, choice=choice, result=result, by=person, at=at)
