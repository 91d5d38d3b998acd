"""Reads what is painted on a page of a PDF: each path and text with its colours and lines, in points of the page."""

from decimal import Decimal
from io import BytesIO

from pypdf import PdfReader
from pypdf.generic import ContentStream
from reportlab.graphics.transform import mmult, transformPoint

PATH = {b"m": 1, b"l": 1, b"c": 3}  # operator -> points
PAINTED = {b"S": (True, False), b"f*": (False, True), b"B*": (True, True), b"n": (False, False)}
START = {"stroke": (0, 0, 0), "fill": (0, 0, 0), "width": 1, "dash": (), "matrix": (1, 0, 0, 1, 0, 0)}


def painted(content):
    """Return what is painted on the first page, in order.

    ("path", points, outline or None, surface or None) and ("text", letters, place, font and size, surface); an
    outline is (colour, width, dash)
    """
    page = PdfReader(BytesIO(content)).pages[0]
    reader = _Reader()
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        reader.read(operator, [float(one) if isinstance(one, int | float | Decimal) else one for one in operands])
    return reader.found


class _Reader:
    def __init__(self):
        self.found, self.state, self.saved = [], dict(START), []
        self.path, self.place, self.font = [], None, None

    def read(self, operator, given):
        named = {b"RG": "stroke", b"rg": "fill"}
        if operator == b"q":
            self.saved.append(dict(self.state))
        elif operator == b"Q":
            self.state = self.saved.pop()
        elif operator == b"cm":
            self.state["matrix"] = mmult(self.state["matrix"], given)
        elif operator in named:
            self.state[named[operator]] = tuple(given)
        elif operator == b"w":
            self.state["width"] = given[0]
        elif operator == b"d":
            self.state["dash"] = tuple(float(part) for part in given[0])
        else:
            self._paint(operator, given)

    def _paint(self, operator, given):
        if operator in PATH:
            pairs = zip(given[::2], given[1::2], strict=True)
            self.path += [transformPoint(self.state["matrix"], pair) for pair in pairs]
        elif operator == b"re":
            x, y, width, height = given
            corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
            self.path += [transformPoint(self.state["matrix"], corner) for corner in corners]
        elif operator in PAINTED:
            is_stroked, is_filled = PAINTED[operator]
            outline = (self.state["stroke"], self.state["width"], self.state["dash"]) if is_stroked else None
            if is_stroked or is_filled:
                self.found.append(("path", self.path, outline, self.state["fill"] if is_filled else None))
            self.path = []
        else:
            self._text(operator, given)

    def _text(self, operator, given):
        if operator == b"Tm":
            self.place = given
        elif operator == b"Tf":
            self.font = (str(given[0]), given[1])
        elif operator == b"TL":
            self.leading = given[0]
        elif operator == b"Td":
            self.place = mmult(self.place, (1, 0, 0, 1, *given))
        elif operator == b"T*":
            self.place = mmult(self.place, (1, 0, 0, 1, 0, -self.leading))
        elif operator == b"Tj":
            place = transformPoint(mmult(self.state["matrix"], self.place), (0, 0))
            self.found.append(("text", bytes(given[0].original_bytes), place, self.font, self.state["fill"]))


def assert_same_painting(ours, theirs, *, within=0.02):
    """Fail for a difference of more than `within` points, or for other colours, lines, texts or order."""
    assert len(ours) == len(theirs), (ours, theirs)
    for mine, yours in zip(ours, theirs, strict=True):
        assert mine[0] == yours[0], (mine, yours)
        _assert_near(_numbers(mine), _numbers(yours), within, (mine, yours))


def _numbers(painting):
    """All of it in one list, numbers among it."""
    if isinstance(painting, tuple | list):
        return [part for one in painting for part in (*_numbers(one), "|")]
    return [painting]


def _assert_near(mine, yours, within, both):
    assert len(mine) == len(yours), both
    for one, other in zip(mine, yours, strict=True):
        same = abs(one - other) <= within if isinstance(one, float | int) else one == other
        assert same, both
