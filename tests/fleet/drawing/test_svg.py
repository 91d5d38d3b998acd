"""Inline SVG is clean, has a description, and has the positions of the PDF."""

import pytest
from pytest import approx
from reportlab.graphics.shapes import Circle, Drawing, Group, Path, Polygon, PolyLine

from fleet.drawing import ACCENT, SEMIBOLD, box, label, rule, text_width, to_svg
from tests.drawing_reader import SVG, parsed, pdf_texts, svg_texts


@pytest.fixture
def drawing():
    picture = Drawing(200, 100)
    picture.add(box(10, 20, 30, 40, ACCENT))
    picture.add(rule(0, 0.5, 200, 0.5, dash=[3, 2]))
    picture.add(label(100, 50.6, "middle", 10, anchor="middle"))
    picture.add(label(190, 30, "the end", 12, font=SEMIBOLD, anchor="end"))
    return picture


def test_it_is_one_element_without_prologue_style_or_script(drawing):
    svg = to_svg(drawing, "Picture", "of a box")
    root = parsed(svg)
    assert svg.startswith("<svg ") and root.tag == f"{SVG}svg"
    assert not any("style" in node.attrib for node in root.iter())
    assert {node.tag.removeprefix(SVG) for node in root.iter()} <= {"svg", "title", "desc", "g", "rect", "line", "text"}


def test_it_scales_with_its_place(drawing):
    assert parsed(to_svg(drawing, "Picture")).get("viewBox") == "0 0 200 100"


def test_its_name_and_description_are_tied_to_it(drawing):
    root = parsed(to_svg(drawing, "Trip < 25 & more", "one sentence"))
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert (title.text, desc.text, root.get("role")) == ("Trip < 25 & more", "one sentence", "img")
    assert root.get("aria-labelledby").split() == [title.get("id"), desc.get("id")]


def test_a_key_tells_two_equal_pictures_apart(drawing):
    first, second = (parsed(to_svg(drawing, "Picture", key=key)).get("aria-labelledby") for key in "ab")
    assert not set(first.split()) & set(second.split())


def test_a_text_keeps_its_anchor_its_place_and_its_weight(drawing):
    middle, end = parsed(to_svg(drawing, "Picture")).iter(f"{SVG}text")
    assert (middle.get("text-anchor"), float(middle.get("x")), float(middle.get("y"))) == ("middle", 100, -50.6)
    assert (end.get("text-anchor"), float(end.get("x")), end.get("font-weight")) == ("end", 190, "600")


def test_the_page_and_the_paper_set_the_same_words_at_the_same_places(drawing):
    paper = {words: (x, y) for words, x, y in pdf_texts(drawing)}
    assert set(paper) == set(svg_texts(to_svg(drawing, "Picture")))
    assert paper["middle"] == approx((100 - text_width("middle", 10) / 2, 50.6), abs=0.01)
    assert paper["the end"] == approx((190 - text_width("the end", 12, SEMIBOLD), 30), abs=0.01)


def test_a_colour_is_written_to_the_last_of_its_steps(drawing):
    assert next(parsed(to_svg(drawing, "Picture")).iter(f"{SVG}rect")).get("fill") == "#0a5560"


def test_a_dashed_line_keeps_its_dash_and_others_have_none(drawing):
    drawing.add(rule(0, 9, 200, 9))
    dashed, plain = parsed(to_svg(drawing, "Picture")).iter(f"{SVG}line")
    assert dashed.get("stroke-dasharray") == "3, 2" and plain.get("stroke-dasharray") is None


def test_a_turned_group_keeps_its_turn():
    picture = Drawing(50, 50, Group(label(0, 0, "turned", 8), transform=(0, 1, -1, 0, 20, 5)))
    assert "matrix(0,1,-1,0,20,5)" in to_svg(picture, "Turned")


def test_a_shape_that_cannot_be_written_is_named():
    picture = Drawing(50, 50, Path())
    with pytest.raises(TypeError, match="Path; known: Group, Line, Rect, Circle"):
        to_svg(picture, "Curve")


def test_every_point_of_a_shape_is_where_the_drawing_has_it():
    ring = Circle(10, 20, 5, fillColor=None, strokeColor=ACCENT, strokeWidth=0.6)
    picture = Drawing(50, 50, ring, PolyLine([1, 2, 3.00049, 4], strokeColor=ACCENT), Polygon([0, 0, 1, 0, 0, -0.0001]))
    root = parsed(to_svg(picture, "Shapes"))
    circle, line, polygon = (next(root.iter(f"{SVG}{name}")) for name in ("circle", "polyline", "polygon"))
    assert {name: circle.get(name) for name in ("cx", "cy", "r", "fill", "stroke-width")} == {
        "cx": "10", "cy": "20", "r": "5", "fill": "none", "stroke-width": "0.6"}  # fmt: skip
    assert (line.get("points"), line.get("fill"), polygon.get("points")) == ("1,2 3,4", "none", "0,0 1,0 0,0")
