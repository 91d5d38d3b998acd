"""The long work of inspections; importing it declares every kind."""

from inspections.jobs import found_errors, notices, papers, planning, reevaluation, review, trends, verification

__all__ = ["found_errors", "notices", "papers", "planning", "reevaluation", "review", "trends", "verification"]
