"""The key to the marks of the cover matrix, on paper."""

from math import ceil

from reportlab.graphics.shapes import Drawing

from .fonts import text_width
from .marks import mark
from .shapes import label

WORDS = {
    "fitted": "fitted",
    "not fitted": "not fitted: a gap",
    "not known": "not known",
    "unwanted": "unwanted and present: a gap",
    "absent": "unwanted and absent",
    "replaced": "another safety feature does its job",
    "": "empty: does not apply",
}


def feature_key(width: float, text: float = 8) -> Drawing:
    """Return the marks with their words on as many lines as the width in points needs."""
    places, x, line = [], 0.0, 0
    for name, words in WORDS.items():
        needed = (text * 2.2 if name else 0) + text_width(words, text) + text * 2
        if x and x + needed > width:
            x, line = 0.0, line + 1
        places.append((name, words, x, line))
        x += needed
    height = (line + 1) * text * 1.8
    drawing = Drawing(ceil(width), ceil(height))
    for name, words, x, line in places:
        y = height - (line + 1) * text * 1.8 + text * 0.5
        if name:
            drawing.add(mark(name, x, y - text * 0.35, text * 1.5))
        drawing.add(label(x + (text * 2.2 if name else 0), y, words, text))
    return drawing
