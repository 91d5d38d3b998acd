"""Slips in readings: another unit, a shifted decimal point, swapped digits. When to ask about a reading, and what."""

from .alternatives import Alternative, Typed, alternatives_to, other_units, shifted, swapped
from .asking import Question, question_about
from .expectations import Expectation, Scale, density
from .knowledge import Knowledge, Range, Read, distance, knowledge_of
from .rows import in_rows_of_today

__all__ = [
    "Alternative",
    "Expectation",
    "Knowledge",
    "Question",
    "Range",
    "Read",
    "Scale",
    "Typed",
    "alternatives_to",
    "density",
    "distance",
    "in_rows_of_today",
    "knowledge_of",
    "other_units",
    "question_about",
    "shifted",
    "swapped",
]
