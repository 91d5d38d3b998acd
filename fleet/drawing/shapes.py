"""Basic shapes for the drawings. y grows upwards, as in reportlab."""

from reportlab.graphics.shapes import Circle, Group, Line, Polygon, Rect, String

from fleet.characters import printable

from .fonts import REGULAR, fit_text, text_width
from .theme import ACCENT, EDGE, INK, SHEET


def label(x, y, text, size, *, font=REGULAR, anchor="start", colour=INK) -> String:
    """Return a text with its start, middle or end at x and its baseline at y."""
    return String(x, y, printable(text), fontName=font, fontSize=size, fillColor=colour, textAnchor=anchor)


def label_inside(x, y, text, size, low, high, *, font=REGULAR, colour=INK) -> String:
    """Return a text centred on x, moved and if necessary shortened to stay between low and high."""
    text = fit_text(text, high - low, size, font)
    half = text_width(text, size, font) / 2
    return label(min(max(x, low + half), high - half), y, text, size, font=font, anchor="middle", colour=colour)


def rule(x1, y1, x2, y2, *, colour=INK, width=1.0, dash=None) -> Line:
    """Return a straight line."""
    return Line(x1, y1, x2, y2, strokeColor=colour, strokeWidth=width, strokeDashArray=dash)


def box(x, y, width, height, fill, *, stroke=None, stroke_width=0.0) -> Rect:
    """Return a rectangle, by default without an outline."""
    return Rect(x, y, width, height, fillColor=fill, strokeColor=stroke, strokeWidth=stroke_width)


def hatch(x1, y, x2, height, *, gap=4.0, colour=EDGE) -> Group:
    """Return slanted lines that fill the rectangle from x1 to x2 exactly, for zones that do not depend on colour."""
    group, start = Group(), x1 - height
    while gap > 0 and start < x2:
        left, right = max(start, x1), min(start + height, x2)
        if right > left:
            group.add(rule(left, y + left - start, right, y + right - start, colour=colour, width=0.6))
        start += gap
    return group


def float_marker(x, tip_y, size, *, colour=ACCENT) -> Polygon:
    """Return the float of a flowmeter with its tip at (x, tip_y): Bobbin's own pointer."""
    half, top = size * 0.46, tip_y + size
    shape = [(-half, top), (half, top), (half, top - size * 0.2), (half * 0.5, top - size * 0.36), (0, tip_y)]
    shape += [(-half * 0.5, top - size * 0.36), (-half, top - size * 0.2)]
    return Polygon([part for dx, y in shape for part in (x + dx, y)], fillColor=colour, strokeColor=None)


def arrow_head(x, y, size, direction, *, colour=INK) -> Polygon:
    """Return a filled arrow head with its tip at (x, y), pointing left (-1) or right (+1)."""
    back = x - direction * size
    return Polygon([x, y, back, y + size * 0.4, back, y - size * 0.4], fillColor=colour, strokeColor=None)


def point_marker(kind, x, y, size, *, colour=INK):
    """Return the marker number `kind` of six that differ in shape: disc, square, triangle, diamond, ring, cross."""
    half, hollow = size / 2, {"fillColor": SHEET, "strokeColor": colour, "strokeWidth": max(size * 0.2, 0.6)}
    filled = {"fillColor": colour, "strokeColor": None}
    match kind % 6:
        case 0:
            return Circle(x, y, half, **filled)
        case 1:
            return Rect(x - half * 0.9, y - half * 0.9, half * 1.8, half * 1.8, **hollow)
        case 2:
            return Polygon([x, y + half * 1.1, x + half, y - half * 0.8, x - half, y - half * 0.8], **filled)
        case 3:
            return Polygon([x, y + half * 1.2, x + half * 1.2, y, x, y - half * 1.2, x - half * 1.2, y], **hollow)
        case 4:
            return Circle(x, y, half, **hollow)
    strokes = Group()
    strokes.add(rule(x - half, y - half, x + half, y + half, colour=colour, width=max(size * 0.25, 0.7)))
    strokes.add(rule(x - half, y + half, x + half, y - half, colour=colour, width=max(size * 0.25, 0.7)))
    return strokes
