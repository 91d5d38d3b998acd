"""Procedures that a department writes itself: drafts, their checks, the file they become, comparison and preview."""
