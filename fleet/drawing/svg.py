"""Converts a reportlab drawing to clean inline SVG: no prologue, no style attribute, no script.

reportlab writes `style` attributes, which a content security policy refuses, and positions texts by measured
width in whole points; here styles become attributes and texts keep their anchor.
"""

import re
from hashlib import sha256

from reportlab.graphics.renderbase import renderScaledDrawing
from reportlab.graphics.renderSVG import SVGCanvas, draw, transformNode
from reportlab.graphics.shapes import Drawing

from fleet.characters import printable

from .fonts import SVG_FONTS

_ANCHORS = {"start": "start", "middle": "middle", "end": "end"}
_KEPT = {
    "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray",
    "font-family", "font-size", "font-weight", "font-style",
}  # fmt: skip
_INHERITED = {"fill-rule": "evenodd", "stroke-width": "1", "stroke-opacity": "1", "fill-opacity": "1"}
_NUMBER = re.compile(r"-?\d+\.\d{4,}(?:e-?\d+)?")


class _Canvas(SVGCanvas):
    """Draws texts with their own anchor, lines as lines, and colours in all 255 steps."""

    def drawString(self, s, x, y, angle=0, link_info=None, text_anchor="start", textRenderMode=0, **attributes):
        node = transformNode(
            self.doc, "text", x=x, y=-y, transform="scale(1,-1)", style=self._formatStyle(_KEPT, stroke="none"),
            **{"text-anchor": _ANCHORS.get(text_anchor, "start")},
        )  # fmt: skip
        node.appendChild(self.doc.createTextNode(s))
        self.currGroup.appendChild(node)

    def line(self, x1, y1, x2, y2):
        self.currGroup.appendChild(
            transformNode(self.doc, "line", x1=x1, y1=y1, x2=x2, y2=y2, style=self._formatStyle(_KEPT, exclude="fill"))
        )

    def setStrokeColor(self, color):
        super().setStrokeColor(color)
        if color is not None:
            self.style["stroke"] = _hexadecimal(color)

    def setFillColor(self, color):
        super().setFillColor(color)
        if color is not None:
            self.style["fill"] = _hexadecimal(color)


def _hexadecimal(colour) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in (colour.red, colour.green, colour.blue))


def to_svg(drawing: Drawing, title: str, desc: str = "", key: str = "") -> str:
    """Return the drawing as one inline <svg> that scales with its container and describes itself.

    title, desc  name and description of the picture for screen readers
    key          makes ids unique if a page shows the same picture twice
    """
    scaled = renderScaledDrawing(drawing)
    canvas = _Canvas((scaled.width, scaled.height), fontHacks={name: dict(hack) for name, hack in SVG_FONTS.items()})
    draw(scaled, canvas)
    group = canvas.groupTree
    for name in ("id", "style"):
        group.removeAttribute(name)
    group.setAttribute("transform", f"translate(0,{scaled.height:g}) scale(1,-1)")
    _styles_to_attributes(group)
    body = _NUMBER.sub(lambda found: f"{float(found[0]):.3f}".rstrip("0").rstrip("."), group.toxml())
    return _wrap(body, scaled.width, scaled.height, title, desc, key)


def _styles_to_attributes(node) -> None:
    for child in list(node.childNodes):
        if child.nodeType != child.ELEMENT_NODE:
            continue
        for part in child.getAttribute("style").split(";"):
            name, _, value = part.partition(":")
            name, value = name.strip(), value.strip().removesuffix("px").replace("None", "none")
            if name.startswith("font-") and child.tagName != "text":
                continue
            if name in _KEPT and value and _INHERITED.get(name) != value:
                child.setAttribute(name, value)
        if child.hasAttribute("style"):
            child.removeAttribute("style")
        if child.hasAttribute("transform") and not child.getAttribute("transform").strip():
            child.removeAttribute("transform")
        _styles_to_attributes(child)


def _wrap(body: str, width: float, height: float, title: str, desc: str, key: str) -> str:
    digest = sha256(f"{key}{title}{desc}{body}".encode()).hexdigest()[:10]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" aria-labelledby="t{digest} d{digest}">'
        f'<title id="t{digest}">{_escaped(title)}</title><desc id="d{digest}">{_escaped(desc)}</desc>{body}</svg>'
    )


def _escaped(text: str) -> str:
    return printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
