"""Drawings as inline SVG: only here a whole text becomes markup of a page, checked against a list of elements."""

from xml.etree import ElementTree

from django.utils.safestring import SafeString, mark_safe

NAMESPACE = "{http://www.w3.org/2000/svg}"
ELEMENTS = {
    "circle", "clipPath", "defs", "desc", "ellipse", "g", "line", "path", "polygon", "polyline", "rect", "svg", "text",
    "title", "tspan",
}  # fmt: skip
ATTRIBUTES = {
    "aria-labelledby", "class", "clip-path", "clip-rule", "cx", "cy", "d", "fill", "fill-opacity", "fill-rule",
    "font-family", "font-size", "font-style", "font-weight", "height", "id", "points", "r", "role", "rx", "ry",
    "stroke",
    "stroke-dasharray", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-opacity", "stroke-width",
    "text-anchor", "transform", "version", "viewBox", "width", "x", "x1", "x2", "y", "y1", "y2",
}  # fmt: skip


class NotADrawing(ValueError):
    """Markup with elements that are not allowed: a defect of the program, which makes every drawing."""


def inline_svg(drawing: str) -> SafeString:
    """Return a drawing as markup for a page. Raises NotADrawing for anything but shapes, texts and their style."""
    try:
        root = ElementTree.fromstring(drawing)
    except ElementTree.ParseError as error:
        raise NotADrawing(f"The drawing is not well-formed SVG: {error}.") from None
    for element in root.iter():
        _refuse_unknown(element)
    return mark_safe(drawing)


def _refuse_unknown(element):
    name = str(element.tag).removeprefix(NAMESPACE)
    unknown = [attribute for attribute in element.attrib if attribute not in ATTRIBUTES]
    if name not in ELEMENTS or unknown:
        raise NotADrawing(f"A drawing must not contain <{name}> with {', '.join(unknown) or 'any attribute'}.")
