"""The long work of inspections; importing it declares every kind."""

from inspections.jobs import (
    fleet_choice,
    found_errors,
    intervals,
    notices,
    papers,
    planning,
    reevaluation,
    review,
    trends,
    verification,
    year_plan,
)

__all__ = [
    "fleet_choice",
    "found_errors",
    "intervals",
    "notices",
    "papers",
    "planning",
    "reevaluation",
    "review",
    "trends",
    "verification",
    "year_plan",
]
