"""The long work of inspections; importing it declares every kind."""

from inspections.jobs import (
    device_books,
    exposure,
    fleet_choice,
    found_errors,
    intervals,
    levelling,
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
    "device_books",
    "exposure",
    "fleet_choice",
    "found_errors",
    "intervals",
    "levelling",
    "notices",
    "papers",
    "planning",
    "reevaluation",
    "review",
    "trends",
    "verification",
    "year_plan",
]
