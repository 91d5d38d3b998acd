"""What is written into a page is what reportlab's own renderer would paint there: the reference is that renderer."""

from io import BytesIO

import pytest
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Circle, Drawing, Ellipse, Group, Line, Polygon, PolyLine, Rect, String
from reportlab.pdfgen.canvas import Canvas

from fleet.documents.drawing_code import draw_drawing
from fleet.drawing import ACCENT, ALARM, INK, REGULAR, SEMIBOLD, mark, wordmark
from inspections.bench.examples import EXAMPLES
from inspections.bench.registry import TESTS
from inspections.bench.serialise import context_from_dict, sheet_from_dict
from inspections.drawing import curve, limit_bar
from tests.page_reader import assert_same_painting, painted


def on_page(draw):
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(500, 400), invariant=1)
    canvas.translate(20, 30)
    draw(canvas)
    canvas.save()
    return painted(buffer.getvalue())


def both(drawing):
    return on_page(lambda canvas: draw_drawing(drawing, canvas)), on_page(
        lambda canvas: renderPDF.draw(drawing, canvas, 0, 0)
    )


def drawing_of(*shapes):
    drawing = Drawing(400, 300)
    for shape in shapes:
        drawing.add(shape)
    return drawing


SHAPES = {
    "line": Line(1, 2, 30.123, 40.456, strokeColor=INK, strokeWidth=0.6),
    "dashed line": Line(1, 2, 30, 40, strokeColor=ALARM, strokeWidth=2, strokeDashArray=[3, 2]),
    "line without colour": Line(1, 2, 30, 40, strokeColor=None),
    "rectangle": Rect(3, 4, 50, 20, fillColor=ACCENT, strokeColor=INK, strokeWidth=1.5),
    "surface": Rect(3, 4, 50, 20, fillColor=ACCENT, strokeColor=None),
    "rounded": Rect(3, 4, 50, 20, rx=5, ry=5, fillColor=ACCENT, strokeColor=INK),
    "nothing to see": Rect(3, 4, 50, 20, fillColor=None, strokeColor=None),
    "polygon": Polygon([1, 1, 9, 1, 5, 7], fillColor=INK, strokeColor=None),
    "polyline": PolyLine([1, 1, 9, 1, 5, 7], strokeColor=ACCENT, strokeWidth=1.5),
    "start": String(10, 20, "0.42 psi (k = 2)", fontName=REGULAR, fontSize=8.36, fillColor=INK),
    "middle": String(90, 20, "± 0.5 °C", fontName=SEMIBOLD, fontSize=8, fillColor=ALARM, textAnchor="middle"),
    "end": String(90, 20, r"a (b) \ c", fontName=SEMIBOLD, fontSize=8, fillColor=INK, textAnchor="end"),
    "turned": Group(Line(0, 0, 9, 0), String(0, 0, "along", fontName=REGULAR), transform=(0, 1, -1, 0, 30, 40)),
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_is_painted_as_reportlab_paints_it(name):
    ours, theirs = both(drawing_of(SHAPES[name]))
    assert_same_painting(ours, theirs)
    assert bool(ours) == (name not in ("nothing to see", "line without colour"))


def test_a_circle_is_the_four_curves_of_reportlab():
    ours, theirs = both(drawing_of(Circle(40, 50, 30, fillColor=ACCENT, strokeColor=INK, strokeWidth=2)))
    assert_same_painting(ours, theirs, within=0.03)


def test_each_shape_follows_the_state_that_the_one_before_it_left():
    group = Group(SHAPES["dashed line"], SHAPES["surface"], transform=(0.5, 0, 0, 0.5, 100, 0))
    shapes = [SHAPES["line"], SHAPES["dashed line"], group, SHAPES["line"], SHAPES["end"], SHAPES["start"]]
    assert_same_painting(*both(drawing_of(*shapes)))


def test_what_is_drawn_after_it_has_the_colours_of_before():
    def drawn(canvas):
        draw_drawing(drawing_of(SHAPES["dashed line"], SHAPES["surface"]), canvas)
        canvas.rect(0, 0, 10, 10, stroke=1, fill=1)

    assert on_page(drawn)[-1][2:] == (((0, 0, 0), 1, ()), (0, 0, 0))


@pytest.mark.parametrize("name", ["pass", "conditional fail", "not tested", "fitted"])
def test_marks_and_the_wordmark_are_painted_as_reportlab_paints_them(name):
    assert_same_painting(*both(drawing_of(mark(name, 3, 4, 12))), within=0.03)
    assert_same_painting(*both(wordmark(25)), within=0.03)


@pytest.mark.parametrize("code", ["supply-failure", "low-pressure-leak", "regulator", "connectors"])
def test_limit_bars_and_curves_are_painted_as_reportlab_paints_them(code):
    example = EXAMPLES[code]
    surroundings = context_from_dict(example["context"], instruments=example.get("instruments", ()))
    evaluation = TESTS[code].evaluate(sheet_from_dict(example), surroundings)
    assert evaluation.results
    for result in evaluation.results:
        assert_same_painting(*both(limit_bar(result, 250, 7.6)), within=0.03)
    for one in evaluation.curves:
        assert_same_painting(*both(curve(one, 420, 180, 8)), within=0.03)


def test_an_unknown_shape_is_refused_by_name():
    with pytest.raises(TypeError, match="no way to print a Ellipse; known: .*Circle"):
        on_page(lambda canvas: draw_drawing(drawing_of(Ellipse(10, 10, 5, 3)), canvas))
