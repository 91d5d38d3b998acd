"""Signs over components and lines: bars, signs at a corner, arrows, disconnected hose ends."""

from math import hypot

from reportlab.graphics.shapes import Circle, Group, Polygon

from fleet.circuit.drawing.condition_notes import Mark
from fleet.circuit.drawing.sheet import BODY_H, BODY_W
from fleet.circuit.drawing.wires import Point
from fleet.drawing import ALARM, INK, SHEET, rule

ARROW = 8.0
BAR = 4.0


def arrow(start: Point, end: Point, size: float = ARROW, colour=INK) -> Polygon:
    """Return an arrow head with its tip at `end`, pointing there from `start`."""
    length = hypot(end[0] - start[0], end[1] - start[1]) or 1.0
    dx, dy = (end[0] - start[0]) / length * size, (end[1] - start[1]) / length * size
    x, y = end
    points = [x, y, x - dx - dy * 0.55, y - dy + dx * 0.55, x - dx + dy * 0.55, y - dy - dx * 0.55]
    return Polygon(points, fillColor=colour, strokeColor=SHEET, strokeWidth=0.8)


def bar(x: float, y: float, mark: Mark) -> Group:
    """Return the bar across a component without flow: in ink if it was shut by hand, else wide and in red."""
    return bar_sign(x, y, mark, BODY_H / 2 - 1)


def bar_sign(x: float, y: float, mark: Mark, half: float) -> Group:
    """Return that bar, `half` points high on either side of y."""
    colour, width = (INK, 3.0) if mark is Mark.SHUT else (ALARM, BAR)
    return Group(
        rule(x, y - half, x, y + half, colour=SHEET, width=width + 3),
        rule(x, y - half, x, y + half, colour=colour, width=width),
    )


def corner(x: float, y: float, mark: Mark) -> Group:
    """Return the sign at the upper right corner of a component with its middle at (x, y)."""
    return corner_sign(x + BODY_W / 2 - 6, y + BODY_H / 2 - 5, mark)


def corner_sign(x: float, y: float, mark: Mark) -> Group:
    """Return the sign of a failure (a cross), of escaping gas (an arrow) or of an alarm (an exclamation mark)."""
    disc = Circle(x, y, 7.5, fillColor=ALARM, strokeColor=SHEET, strokeWidth=1.5)
    if mark is Mark.FAILED:
        strokes = [(-3, -3, 3, 3), (-3, 3, 3, -3)]
    elif mark is Mark.TELLS:
        strokes = [(0, 4, 0, -1), (0, -3, 0, -4.4)]
    else:
        strokes = [(-3, -3, 3, 3), (3, 3, -1, 3), (3, 3, 3, -1)]
    return Group(disc, *(rule(x + a, y + b, x + c, y + d, colour=SHEET, width=1.9) for a, b, c, d in strokes))


def wrong_end(end: Point) -> Circle:
    """Return the ring at an end of a misconnected hose."""
    return Circle(end[0], end[1], 4.5, fillColor=SHEET, strokeColor=ALARM, strokeWidth=2.2)


def loose_ends(gap: tuple[Point, Point]) -> Group:
    """Return the two ends of a disconnected hose."""
    (x1, y1), (x2, y2) = gap
    length = hypot(x2 - x1, y2 - y1) or 1.0
    across = (y1 - y2) / length * 7, (x2 - x1) / length * 7
    ends = [rule(x - across[0], y - across[1], x + across[0], y + across[1], colour=ALARM, width=2.4) for x, y in gap]
    return Group(*ends)
