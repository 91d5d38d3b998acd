"""Reads a reportlab drawing: its texts, lines and shapes with their position on paper."""

from io import BytesIO
from xml.etree import ElementTree

from pypdf import PdfReader
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Group, String
from reportlab.graphics.transform import mmult, transformPoint

SVG = "{http://www.w3.org/2000/svg}"
IDENTITY = (1, 0, 0, 1, 0, 0)


def leaves(node, matrix=IDENTITY):
    """Yield (shape, matrix) for every shape that is not a group."""
    if isinstance(node, Group):
        inner = mmult(matrix, node.transform)
        for child in node.contents:
            yield from leaves(child, inner)
    elif hasattr(node, "contents"):
        for child in node.contents:
            yield from leaves(child, matrix)
    else:
        yield node, matrix


def shapes(drawing, kind):
    return [shape for shape, _ in leaves(drawing) if isinstance(shape, kind)]


def texts(drawing):
    return [shape.text for shape in shapes(drawing, String)]


def text_at(drawing, words):
    """Return the only shape with exactly this text."""
    (found,) = [shape for shape in shapes(drawing, String) if shape.text == words]
    return found


def reach(drawing):
    """Return the smallest box (left, bottom, right, top) that holds every shape."""
    points = []
    for shape, matrix in leaves(drawing):
        left, bottom, right, top = shape.getBounds()
        points += [
            transformPoint(matrix, corner) for corner in ((left, bottom), (left, top), (right, bottom), (right, top))
        ]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def stays_inside(drawing, slack=1.0):
    left, bottom, right, top = reach(drawing)
    within = left >= -slack and bottom >= -slack
    return within and right <= drawing.width + slack and top <= drawing.height + slack


def parsed(svg):
    return ElementTree.fromstring(svg)


def svg_texts(svg):
    return [node.text for node in parsed(svg).iter(f"{SVG}text")]


def pdf_texts(drawing):
    """Return (words, x, y) of every text in the drawing's PDF, x and y of its start in points."""
    found = []

    def visit(text, _cm, matrix, _font, _size):
        if text.strip():
            found.append((text.strip(), matrix[4], matrix[5]))

    page = PdfReader(BytesIO(renderPDF.drawToString(drawing))).pages[0]
    page.extract_text(visitor_text=visit)
    return found
