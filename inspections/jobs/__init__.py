"""The long work of inspections; importing it declares every kind."""

from inspections.jobs import papers, planning, reevaluation, review, trends, verification

__all__ = ["papers", "planning", "reevaluation", "review", "trends", "verification"]
