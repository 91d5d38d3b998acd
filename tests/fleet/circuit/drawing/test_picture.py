"""The whole picture on page and paper."""

import re

import pytest
from reportlab.graphics import renderPDF

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.circuit.drawing import draw_circuit, title_and_description
from fleet.circuit.drawing.sheet import BODY_H, BODY_W
from fleet.circuit.drawing.symbols import SYMBOLS, symbol
from fleet.circuit.structure import Circuit
from fleet.drawing import to_svg
from tests.drawing_reader import parsed, pdf_texts, reach, stays_inside, svg_texts, texts
from tests.fleet.circuit.drawing.geometry import overlapping_boxes, pipes_on_pipes, pipes_through_boxes, scene
from tests.fleet.circuit.drawing.solved import circuit, solved

CASES = [
    ("castrine-2", "oxygen-pipeline-off"), ("ostler-octavo", "flush-valve-pressed"), ("castrine-1", "outlet-hose-off"),
    ("norrfell-3", "oxygen-shut-nitrous-oxide-on"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "code"), CASES)
def test_with_all_its_numbers_nothing_lies_on_anything_else(name, code):
    found = scene(circuit(name), solved(name, code))
    assert overlapping_boxes(found) == [] and pipes_through_boxes(found) == [] and pipes_on_pipes(found) == []
    assert stays_inside(draw_circuit(circuit(name), solved(name, code)))


def test_every_component_of_the_circuit_is_named_in_the_picture():
    drawn = " ".join(texts(draw_circuit(circuit("norrfell-3"), width=2400)))
    for component in circuit("norrfell-3").components:
        gas = GASES[component.gas].name if component.gas else ""
        assert component.label.removeprefix(gas).strip().lower() in drawn.lower()


def test_each_gas_of_the_circuit_is_named_beside_its_lane_and_in_the_key():
    drawn = texts(draw_circuit(circuit("castrine-2")))
    for gas in ("Oxygen", "Nitrous oxide", "Air"):
        assert drawn.count(gas) == 2
    assert {"O2", "N2O", "mixed gas"} <= set(drawn)


def test_the_svg_scales_has_a_name_and_a_description_and_no_inline_style():
    solution = solved("castrine-2", "oxygen-pipeline-off")
    title, description = title_and_description(circuit("castrine-2"), solution)
    svg = to_svg(draw_circuit(circuit("castrine-2"), solution), title, description)
    assert parsed(svg).attrib["role"] == "img" and "style=" not in svg
    assert title in svg and "hose disconnected" in description
    assert "cmH2O" in " ".join(svg_texts(svg))


def test_the_paper_says_what_the_page_says():
    solution = solved("castrine-2")
    drawing = draw_circuit(circuit("castrine-2"), solution)
    assert {words for words, _, _ in pdf_texts(drawing)} == {words.strip() for words in texts(drawing)}
    assert renderPDF.drawToString(drawing).startswith(b"%PDF")


def test_letters_are_at_least_seven_points_high_when_a_page_of_768_px_shows_it():
    """A picture drawn 720 wide is shown at its own size there; one of 1100 is scaled to 720."""
    for width in (720, 1100):
        svg = to_svg(draw_circuit(circuit("castrine-2"), width=width), "x")
        smallest = min(float(size) for size in re.findall(r'font-size="([\d.]+)', svg))
        assert smallest * 720 / width >= 7


@pytest.mark.parametrize("kind", COMPONENT_KINDS)
def test_every_kind_has_a_sign_that_stays_within_its_body(kind):
    assert kind in SYMBOLS
    for is_mirrored in (False, True):
        left, bottom, right, top = reach(symbol(kind, 0, 0, is_mirrored))
        assert left >= -BODY_W / 2 - 1.5 and right <= BODY_W / 2 + 1.5
        assert bottom >= -BODY_H / 2 - 1.5 and top <= BODY_H / 2 + 1.5


def test_a_circuit_without_components_is_an_empty_sheet():
    drawing = draw_circuit(Circuit("none", "Nothing yet", (), ()))
    assert "Nothing yet: gas circuit" in texts(drawing) and stays_inside(drawing)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"colours": "uk"}, "colours is 'uk'; accepted: iso, us"),
        ({"units": "bar"}, "units is 'bar'; accepted: kPa, psi"),
        ({"width": 200}, "width is 200; accepted: 420"),
    ],
)
def test_what_it_does_not_know_is_refused_by_name(wrong, message):
    with pytest.raises(ValueError, match=message):
        draw_circuit(circuit("norrfell-3"), **wrong)
