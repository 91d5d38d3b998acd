"""A gas is told by its name and its pattern as well as by its colour, and the colour is that of the convention."""

import pytest
from reportlab.graphics.shapes import Line

from fleet.catalogue import GASES
from fleet.circuit.drawing.gas_lines import COLOURS, PATTERNS, gas_of, pipe, still_pipe
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.gases import AIR, Mix
from tests.drawing_reader import leaves

EDGE = [((0.0, 0.0), (100.0, 0.0))]
# What a colour word of gases.toml (ISO 32, CGA C-9) asks of red, green and blue between 0 and 1.
LOOKS = {
    "white": lambda r, g, b: min(r, g, b) > 0.9,
    "blue": lambda r, g, b: b > g > r,
    "green": lambda r, g, b: g > max(r, b),
    "yellow": lambda r, g, b: min(r, g) > 0.6 > b,
    "black": lambda r, g, b: max(r, g, b) < 0.25,
    "grey": lambda r, g, b: max(r, g, b) - min(r, g, b) < 0.1 and 0.3 < r < 0.8,
    "brown": lambda r, g, b: r > g > b,
}


@pytest.mark.parametrize("convention", ["iso", "us"])
@pytest.mark.parametrize("gas", GASES)
def test_a_pipe_has_the_colour_that_the_convention_gives_its_gas(gas, convention):
    words = GASES[gas].colour_iso if convention == "iso" else GASES[gas].colour_us
    colour = COLOURS[convention][gas]
    assert LOOKS[words.split()[0]](colour.red, colour.green, colour.blue)


def test_every_gas_and_mixed_gas_has_a_pattern_of_its_own_flowing_or_still():
    assert set(PATTERNS) == {*GASES, MIXED} == set(COLOURS["iso"]) == set(COLOURS["us"])
    assert len({(pattern.blocks, pattern.are_dark) for pattern in PATTERNS.values()}) == len(PATTERNS)
    assert len({pattern.still for pattern in PATTERNS.values()}) == len(PATTERNS)


@pytest.mark.parametrize("gas", [*GASES, MIXED])
def test_the_pattern_is_the_same_under_both_conventions(gas):
    dashes = [
        [shape.strokeDashArray for shape, _ in leaves(pipe(EDGE, gas, convention, 3)) if isinstance(shape, Line)]
        for convention in COLOURS
    ]
    assert dashes[0] == dashes[1]


def test_a_white_pipe_has_a_dark_rim_on_either_side():
    rim, core = (shape for shape, _ in leaves(pipe(EDGE, "oxygen", "iso", 3)))
    assert rim.strokeWidth >= core.strokeWidth + 2 and rim.strokeColor.red < 0.2 < 0.9 < core.strokeColor.red


def test_a_still_pipe_is_thin_and_broken():
    (line,) = (shape for shape, _ in leaves(still_pipe(EDGE, "oxygen")))
    assert line.strokeWidth < 2 and line.strokeDashArray


@pytest.mark.parametrize(
    ("shares", "gas"),
    [
        ({"oxygen": 1}, "oxygen"),
        ({"nitrous-oxide": 99, "oxygen": 1}, "nitrous-oxide"),
        (AIR, "air"),
        ({"oxygen": 0.5, "nitrogen": 0.5}, MIXED),
        ({"oxygen": 0.33, "nitrous-oxide": 0.67}, MIXED),
        ({"oxygen": 0.95, "sevoflurane": 0.05}, MIXED),
    ],
)
def test_a_mixture_is_drawn_as_the_gas_that_it_practically_is(shares, gas):
    assert gas_of(Mix.of(shares)) == gas
