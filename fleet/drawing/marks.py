"""The marks of the stylesheet as shapes, for paper: each appears beside its word, never alone."""

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, Rect

from .shapes import float_marker, label, rule
from .theme import ACCENT, ALARM, INK, SHEET, SOFT

FEATURE_MARKS = ("fitted", "not fitted", "not known", "unwanted", "replaced", "absent")
DECISION_MARKS = ("pass", "conditional pass", "conditional fail", "fail", "not tested", "not decided", "incomplete")
FAILED = ("fail", "conditional fail")
NO_PROOF = ("not tested", "incomplete")
CONCLUSION_MARKS = ("obsolete", "consider replacement", "keep")
WIDTH, HEIGHT = 24, 20


def mark_name(words: str) -> str:
    """Return the word whose mark stands before some words: “pass” for “pass, limit not confirmed”.

    Whatever is incomplete bears that mark, “signed, incomplete”, but for what failed besides: “fail, incomplete”.
    """
    first = words.partition(",")[0]
    return "incomplete" if "incomplete" in words.lower() and first.lower() not in FAILED else first


def mark(name: str, x: float, y: float, height: float) -> Group:
    """Return the mark of a feature state, a decision or a conclusion, 1.2 times as wide as high.

    x, y, height  its lower left corner and its height in points
    Raises ValueError for a name that is in none of FEATURE_MARKS, DECISION_MARKS and CONCLUSION_MARKS.
    """
    if name in FEATURE_MARKS:
        shapes = _feature(name)
    elif name in DECISION_MARKS:
        shapes = _decision(name)
    elif name in CONCLUSION_MARKS:
        shapes = _conclusion(name)
    else:
        names = ", ".join(FEATURE_MARKS + DECISION_MARKS + CONCLUSION_MARKS)
        raise ValueError(f'There is no mark "{name}". Accepted: {names}.')
    scale = height / HEIGHT
    return Group(*shapes, transform=(scale, 0, 0, scale, x, y))


def _feature(name):
    if name == "fitted":
        return [Circle(12, 10, 3.6, fillColor=INK, strokeColor=None)]
    if name == "replaced":
        return [Circle(12, 10, 3.4, fillColor=SHEET, strokeColor=INK, strokeWidth=1.4)]
    if name == "absent":
        return [rule(9.2, 10, 14.8, 10, colour=SOFT, width=1.4)]
    if name == "not fitted":
        return [Rect(6.5, 4.5, 11, 11, fillColor=SHEET, strokeColor=ALARM, strokeWidth=2.2)]
    if name == "unwanted":
        return [
            Polygon([12, 17, 19, 3.5, 5, 3.5], fillColor=ALARM, strokeColor=None),
            rule(12, 12.4, 12, 8, colour=SHEET, width=1.5),
            rule(12, 6.6, 12, 5.1, colour=SHEET, width=1.5),
        ]
    ring = Circle(12, 10, 6.6, fillColor=None, strokeColor=SOFT, strokeWidth=1.3, strokeDashArray=[2.1, 1.7])
    return [ring, label(12, 6.4, "?", 11, anchor="middle")]


def _decision(name):
    base = Line(2, 4.5, 22, 4.5, strokeColor=INK, strokeWidth=1.2)
    if name in NO_PROOF:
        base.strokeDashArray = [2, 2]
    shapes = [base, rule(12, 16.5, 12, 2.5, width=1.6)]
    if name == "pass":
        shapes.append(Circle(6.2, 11.2, 3.7, fillColor=ACCENT, strokeColor=None))
    elif name == "conditional pass":
        shapes.append(Circle(7.6, 11.2, 3.3, fillColor=SHEET, strokeColor=ACCENT, strokeWidth=1.6))
    elif name == "not decided":
        shapes.append(label(6.2, 7.4, "?", 10, anchor="middle"))
    elif name == "conditional fail":
        shapes.append(_diamond(16.6, SHEET))
    elif name == "fail":
        shapes.append(_diamond(18.2, ALARM))
    elif name == "incomplete":
        shapes.append(rule(8, 15.4, 16, 7.4, colour=ALARM, width=1.6))
    return shapes


def _conclusion(name):
    """A pointer at the foot, the middle or the head of a scale."""
    y = {"obsolete": 4.5, "consider replacement": 10, "keep": 15.5}[name]
    colour = {"obsolete": ALARM, "consider replacement": INK, "keep": ACCENT}[name]
    scale = [rule(7, 2.5, 7, 17.5, width=1.4)]
    scale += [rule(3, tick, 7, tick, width=1.2) for tick in (4.5, 10, 15.5)]
    return [*scale, Polygon([9, y, 19, y + 4.2, 19, y - 4.2], fillColor=colour, strokeColor=None)]


def _diamond(x, fill):
    points = [x, 15.6, x + 4.1, 11.5, x, 7.4, x - 4.1, 11.5]
    return Polygon(points, fillColor=fill, strokeColor=ALARM, strokeWidth=1.5)


def wordmark(height: float) -> Drawing:
    """Return the tapered tube with its float and the name, `height` points high, for the head of a paper."""
    drawing = Drawing(height * 2.9, height)
    unit = height / 40
    tube = Group(transform=(unit, 0, 0, unit, 0, 0))
    for x1, y1, x2, y2 in ((8.2, 1.5, 4.2, 38.5), (15.8, 1.5, 19.8, 38.5), (7, 1.5, 17, 1.5)):
        tube.add(rule(x1, y1, x2, y2, width=1.7))
    for step in range(8):
        y, wall, reach = 34.5 - 3.7 * step, 19.2 - 0.4 * step, 3.4 if step % 4 == 0 else 2
        tube.add(rule(wall, y, wall - reach, y))
    tube.add(float_marker(12, 15.5, 15))
    drawing.add(tube)
    drawing.add(label(height * 0.68, height * 0.3, "Bobbin", height * 0.6, font="Bobbin-Semibold"))
    return drawing
