"""The long work of inspections; importing it declares every kind."""

from inspections.jobs import found_errors, papers, planning, reevaluation, review, trends, verification, year_plan

__all__ = ["found_errors", "papers", "planning", "reevaluation", "review", "trends", "verification", "year_plan"]
