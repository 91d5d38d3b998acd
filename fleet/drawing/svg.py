"""Writes a reportlab drawing as inline SVG: no prologue, no style attribute, no script.

A drawing is one description: fleet/documents/drawing_code.py prints it on paper, this module writes it into pages.
reportlab's own SVG renderer builds a document tree, writes `style` attributes, which a content security policy refuses,
and places texts by measured width in whole points. Here each shape becomes one element, and texts keep their anchor.
"""

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from hashlib import sha256

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color

from fleet.characters import printable

from .fonts import SVG_FONTS

_IDENTITY = (1, 0, 0, 1, 0, 0)


def to_svg(drawing: Drawing, title: str, desc: str = "", key: str = "") -> str:
    """Return the drawing as one inline <svg> that scales with its container and describes itself.

    title, desc  name and description of the picture for screen readers
    key          makes ids unique if a page shows the same picture twice
    Raises TypeError for a shape that it cannot write.
    """
    shapes = "".join(_written(drawing.contents))
    flipped = f'<g transform="translate(0,{drawing.height:g}) scale(1,-1)">{shapes}</g>'
    return _wrap(flipped, drawing.width, drawing.height, title, desc, key)


def _written(shapes: Iterable[object]) -> Iterator[str]:
    for shape in shapes:
        writer = _WRITERS.get(type(shape))
        if writer is None:
            raise TypeError(f"no SVG element for a {type(shape).__name__}; known: {', '.join(_names())}")
        yield writer(shape)


def _names() -> list[str]:
    return [kind.__name__ for kind in _WRITERS]


def _group(group: Group) -> str:
    matrix = tuple(group.transform)
    turn = "" if matrix == _IDENTITY else f' transform="matrix({",".join(map(_number, matrix))})"'
    return f"<g{turn}>{''.join(_written(group.contents))}</g>"


def _line(line: Line) -> str:
    ends = _attributes(x1=line.x1, y1=line.y1, x2=line.x2, y2=line.y2)
    return f"<line{ends}{_stroke(line)}/>"


def _rect(rect: Rect) -> str:
    place = _attributes(x=rect.x, y=rect.y, width=rect.width, height=rect.height)
    corners = _attributes(rx=rect.rx, ry=rect.ry) if rect.rx or rect.ry else ""
    return f"<rect{place}{corners}{_stroke(rect)}{_fill(rect)}/>"


def _circle(circle: Circle) -> str:
    return f"<circle{_attributes(cx=circle.cx, cy=circle.cy, r=circle.r)}{_stroke(circle)}{_fill(circle)}/>"


def _polygon(polygon: Polygon) -> str:
    return f'<polygon points="{_points(polygon.points)}"{_stroke(polygon)}{_fill(polygon)}/>'


def _polyline(line: PolyLine) -> str:
    return f'<polyline points="{_points(line.points)}"{_stroke(line)} fill="none"/>'


def _text(text: String) -> str:
    anchor = text.textAnchor if text.textAnchor in ("middle", "end") else "start"
    place = f' x="{_number(text.x)}" y="{_number(-text.y)}" transform="scale(1,-1)" text-anchor="{anchor}"'
    font = f'{_font(text.fontName)} font-size="{_number(text.fontSize)}"'
    return f'<text{place} stroke="none"{_fill(text)}{font}>{_escaped(text.text)}</text>'


def _font(name: str) -> str:
    return "".join(f' font-{part}="{value}"' for part, value in SVG_FONTS[name].items())


_WRITERS: dict[type, Callable[..., str]] = {
    Group: _group, Line: _line, Rect: _rect, Circle: _circle, Polygon: _polygon, PolyLine: _polyline, String: _text,
}  # fmt: skip


def _stroke(shape) -> str:
    if shape.strokeColor is None or not shape.strokeWidth:
        return ' stroke="none"'
    width = "" if shape.strokeWidth == 1 else f' stroke-width="{_number(shape.strokeWidth)}"'
    dash = shape.strokeDashArray
    dashes = f' stroke-dasharray="{", ".join(map(_number, dash))}"' if dash else ""
    return f' stroke="{_hexadecimal(shape.strokeColor)}"{width}{dashes}'


def _fill(shape) -> str:
    return f' fill="{"none" if shape.fillColor is None else _hexadecimal(shape.fillColor)}"'


@lru_cache(maxsize=256)
def _hexadecimal(colour: Color) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in (colour.red, colour.green, colour.blue))


def _attributes(**numbers: float) -> str:
    return "".join(f' {name}="{_number(number)}"' for name, number in numbers.items())


def _points(coordinates: Iterable[float]) -> str:
    numbers = iter(coordinates)
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in zip(numbers, numbers, strict=True))


def _number(number: float) -> str:
    """Return a coordinate with three decimals at most, a thousandth of a point."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _wrap(body: str, width: float, height: float, title: str, desc: str, key: str) -> str:
    digest = sha256(f"{key}{title}{desc}{body}".encode()).hexdigest()[:10]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" aria-labelledby="t{digest} d{digest}">'
        f'<title id="t{digest}">{_escaped(title)}</title><desc id="d{digest}">{_escaped(desc)}</desc>{body}</svg>'
    )


def _escaped(text: str) -> str:
    return printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
