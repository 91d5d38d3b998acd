"""Drawings for page and paper: reportlab drawings in Bobbin's colours and typeface. Plain Python."""

from . import unchecked  # noqa: F401  before the first shape
from .fonts import ITALIC, REGULAR, SEMIBOLD, fit_text, register_fonts, text_width, wrap_text
from .marks import CONCLUSION_MARKS, DECISION_MARKS, FEATURE_MARKS, mark, wordmark
from .matrix import MatrixColumn, MatrixRow, matrix, rows_that_fit
from .numbers import nice_ticks, number, tick_texts, with_uncertainty
from .shapes import arrow_head, box, float_marker, hatch, label, label_inside, point_marker, rule
from .svg import to_svg
from .theme import ACCENT, ACCENT_WASH, ALARM, ALARM_WASH, EDGE, INK, LINE, PAPER, SHEET, SOFT

__all__ = [
    "ACCENT",
    "ACCENT_WASH",
    "ALARM",
    "ALARM_WASH",
    "CONCLUSION_MARKS",
    "DECISION_MARKS",
    "EDGE",
    "FEATURE_MARKS",
    "INK",
    "ITALIC",
    "LINE",
    "PAPER",
    "REGULAR",
    "SEMIBOLD",
    "SHEET",
    "SOFT",
    "MatrixColumn",
    "MatrixRow",
    "arrow_head",
    "box",
    "fit_text",
    "float_marker",
    "hatch",
    "label",
    "label_inside",
    "mark",
    "matrix",
    "nice_ticks",
    "number",
    "point_marker",
    "register_fonts",
    "rows_that_fit",
    "rule",
    "text_width",
    "tick_texts",
    "to_svg",
    "with_uncertainty",
    "wordmark",
    "wrap_text",
]
