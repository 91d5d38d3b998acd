"""Writes a drawing into a page: the operators of ISO 32000-1:2008, 8.4 and 8.5, and 9.4 for its texts.

Reportlab's renderer saves, sets and restores the whole state of the page for each shape, which took a third of the time
of a record. Here a shape says only what differs from the shape before it, and the state is restored once. It knows the
shapes that fleet/drawing/svg.py knows, so that page and paper show the same drawings.
"""

from collections.abc import Callable, Iterable
from functools import lru_cache

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfgen.canvas import Canvas

from fleet.drawing import text_width

QUARTER = 0.5522847498  # of a radius: how far the handles of a cubic curve are from its ends in a quarter of a circle
LEADING = 1.2  # of the size of a text, after which its line ends: programs that read a page take each text as a line
IDENTITY = (1, 0, 0, 1, 0, 0)
PAINT = {(False, False): "n", (True, False): "S", (False, True): "f*", (True, True): "B*"}  # by (stroke, fill)


def draw_drawing(drawing: Drawing, canvas: Canvas) -> None:
    """Draw with the lower left corner at the origin of the canvas. Raises TypeError for a shape that it cannot write.

    Coordinates are written to a hundredth of a point.
    """
    pen = _Pen(canvas)
    pen.code.append("q 0 J 0 j")
    pen.write(drawing.contents)
    pen.code.append("Q")


class _Pen:
    """Writes shapes one after the other, and remembers the state that they leave."""

    def __init__(self, canvas):
        self.canvas, self.code = canvas, canvas._code
        self.stroke = self.fill = ""

    def write(self, shapes: Iterable[object]) -> None:
        for shape in shapes:
            writer = _WRITERS.get(type(shape))
            if writer is None:
                known = ", ".join(kind.__name__ for kind in _WRITERS)
                raise TypeError(f"no way to print a {type(shape).__name__}; known: {known}")
            writer(self, shape)

    def stroke_as(self, shape) -> bool:
        """Set colour, width and dash of lines; return False for a shape without an outline."""
        if shape.strokeColor is None:
            return False
        dash = " ".join(f"{part:.2f}" for part in shape.strokeDashArray or ())
        wanted = f"{colour_code(shape.strokeColor)} RG {shape.strokeWidth:.2f} w [{dash}] 0 d"
        if wanted != self.stroke:
            self.code.append(wanted)
            self.stroke = wanted
        return True

    def fill_as(self, shape) -> bool:
        """Set the colour of surfaces and texts; return False for a shape without a surface."""
        if shape.fillColor is None:
            return False
        wanted = colour_code(shape.fillColor)
        if wanted != self.fill:
            self.code.append(f"{wanted} rg")
            self.fill = wanted
        return True

    def paint(self, shape, path: str) -> None:
        """Paint a path with the outline and the surface of its shape."""
        how = PAINT[self.stroke_as(shape), self.fill_as(shape)]
        self.code.append(f"{path} {how}")


@lru_cache(maxsize=256)
def colour_code(colour: Color) -> str:
    """Return the parts of a colour, red, green and blue, as operators take them."""
    return f"{colour.red:.4f} {colour.green:.4f} {colour.blue:.4f}"


def _group(pen: _Pen, group: Group) -> None:
    matrix = tuple(group.transform)
    if matrix == IDENTITY:
        pen.write(group.contents)
        return
    before = pen.stroke, pen.fill
    pen.code.append(f"q {' '.join(f'{part:.5f}' for part in matrix)} cm")
    pen.write(group.contents)
    pen.code.append("Q")
    pen.stroke, pen.fill = before


def _line(pen: _Pen, line: Line) -> None:
    if pen.stroke_as(line):
        pen.code.append(f"{line.x1:.2f} {line.y1:.2f} m {line.x2:.2f} {line.y2:.2f} l S")


def _rect(pen: _Pen, rect: Rect) -> None:
    if rect.rx or rect.ry:
        is_stroked, is_filled = pen.stroke_as(rect), pen.fill_as(rect)
        pen.canvas.roundRect(rect.x, rect.y, rect.width, rect.height, rect.rx, is_stroked, is_filled)
    else:
        pen.paint(rect, f"{rect.x:.2f} {rect.y:.2f} {rect.width:.2f} {rect.height:.2f} re")


def _circle(pen: _Pen, circle: Circle) -> None:
    x, y, r, handle = circle.cx, circle.cy, circle.r, circle.r * QUARTER
    quarters = ((r, handle, handle, r, 0, r), (-handle, r, -r, handle, -r, 0))
    quarters += tuple(tuple(-part for part in quarter) for quarter in quarters)
    curves = (" ".join(f"{x + dx:.2f} {y + dy:.2f}" for dx, dy in _pairs(one)) for one in quarters)
    pen.paint(circle, f"{x + r:.2f} {y:.2f} m {' c '.join(curves)} c h")


def _polygon(pen: _Pen, polygon: Polygon) -> None:
    pen.paint(polygon, f"{_path(polygon.points)} h")


def _polyline(pen: _Pen, line: PolyLine) -> None:
    if pen.stroke_as(line):
        pen.code.append(f"{_path(line.points)} S")


def _path(points: Iterable[float]) -> str:
    first, *others = (f"{x:.2f} {y:.2f}" for x, y in _pairs(points))
    return " ".join([f"{first} m", *(f"{point} l" for point in others)])


def _pairs(coordinates: Iterable[float]):
    numbers = iter(coordinates)
    return zip(numbers, numbers, strict=True)


def _text(pen: _Pen, text: String) -> None:
    if not pen.fill_as(text):
        return
    x, size, document = text.x, text.fontSize, pen.canvas._doc
    if text.textAnchor in ("middle", "end"):
        x -= text_width(text.text, size, text.fontName) * (0.5 if text.textAnchor == "middle" else 1)
    font, escape = getFont(text.fontName), pen.canvas._escape
    pieces = (
        f"{font.getSubsetInternalName(subset, document)} {size:.2f} Tf {size * LEADING:.2f} TL ({escape(letters)}) Tj"
        for subset, letters in font.splitString(text.text, document)
    )
    pen.code.append(f"BT 1 0 0 1 {x:.2f} {text.y:.2f} Tm {' '.join(pieces)} T* ET")


_WRITERS: dict[type, Callable[[_Pen, object], None]] = {
    Group: _group, Line: _line, Rect: _rect, Circle: _circle, Polygon: _polygon, PolyLine: _polyline, String: _text,
}  # fmt: skip
