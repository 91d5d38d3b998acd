"""The drawing of a gas circuit, and a description in words. Plain Python."""

from fleet.circuit.drawing.description import ComponentLine, in_words, title_and_description
from fleet.circuit.drawing.picture import draw_circuit

__all__ = ["ComponentLine", "draw_circuit", "in_words", "title_and_description"]
