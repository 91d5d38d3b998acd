"""Intervals and what they follow from. Plain Python."""
