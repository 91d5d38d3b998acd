"""The drawing of a gas circuit, and the same in words. Plain Python."""

from fleet.circuit.drawing.picture import draw_circuit

__all__ = ["draw_circuit"]
