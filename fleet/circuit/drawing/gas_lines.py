"""The line style of each gas: a conventional colour, and a pattern and a name that do not depend on colour."""

from collections.abc import Mapping
from dataclasses import dataclass

from reportlab.graphics.shapes import Group
from reportlab.lib.colors import Color, HexColor

from fleet.catalogue import GASES
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.gases import AIR_OXYGEN, Mix
from fleet.drawing import ACCENT, INK, SHEET, rule

COLOURS: Mapping[str, Mapping[str, Color]] = {
    "iso": {  # ISO 32: oxygen white, nitrous oxide blue, air white and black; by gases.toml
        "oxygen": SHEET,
        "nitrous-oxide": HexColor("#2a62ad"),
        "air": SHEET,
        "nitrogen": HexColor("#23292b"),
        "carbon-dioxide": HexColor("#84898b"),
        "helium": HexColor("#7a4a24"),
        MIXED: ACCENT,
    },
    "us": {  # CGA C-9: oxygen green, nitrous oxide blue, air yellow; by gases.toml
        "oxygen": HexColor("#2b8a4b"),
        "nitrous-oxide": HexColor("#2a62ad"),
        "air": HexColor("#e8bd16"),
        "nitrogen": HexColor("#23292b"),
        "carbon-dioxide": HexColor("#84898b"),
        "helium": HexColor("#7a4a24"),
        MIXED: ACCENT,
    },
}


@dataclass(frozen=True, slots=True)
class Pattern:
    """The pattern that identifies a gas by its line alone.

    blocks  dashes on the line where gas flows, none for a plain one; `are_dark` for ink instead of white
    still   dashes of the thin line where nothing flows
    """

    blocks: tuple[float, ...]
    are_dark: bool
    still: tuple[float, ...]


PATTERNS: Mapping[str, Pattern] = {
    "oxygen": Pattern((), False, (9, 4)),
    "nitrous-oxide": Pattern((2.5, 6), False, (2.5, 3)),
    "air": Pattern((9, 9), True, (13, 3, 2, 3)),
    "nitrogen": Pattern((1.5, 12), False, (1, 4)),
    "carbon-dioxide": Pattern((11, 3), False, (6, 3, 1, 3)),
    "helium": Pattern((16, 4, 2, 4), False, (16, 5)),
    MIXED: Pattern((6, 2.5, 2, 2.5), False, (5, 2, 1.5, 2)),
}
PURE = 0.98  # fraction from which a mixture is drawn as a single gas
EDGE_WIDTH = 1.1  # of the dark rim on either side
STILL_WIDTH = 1.3
HALO = 3.0  # white margin on either side where lines cross


def gas_of(mix: Mix) -> str:
    """Return the code of the gas that a mixture practically consists of, MIXED if it is no gas of the catalogue."""
    oxygen, nitrogen = mix.share("oxygen"), mix.share("nitrogen")
    if oxygen + nitrogen > PURE and abs(oxygen - AIR_OXYGEN) < 1 - PURE:
        return "air"
    return next((gas for gas, share in mix.shares.items() if share > PURE and gas in GASES), MIXED)


def halo(edges, width: float) -> Group:
    """Return a white margin under a line, so that a crossed line visibly passes below."""
    return Group(*(rule(*start, *end, colour=SHEET, width=width + 2 * HALO) for start, end in edges))


def pipe(edges, gas: str, colours: str, width: float) -> Group:
    """Return line segments with flow, `width` points thick without the rim."""
    group, pattern = Group(), PATTERNS[gas]
    for thick, colour in ((width + 2 * EDGE_WIDTH, INK), (width, COLOURS[colours][gas])):
        for start, end in _mitred(edges, thick / 2):
            group.add(rule(*start, *end, colour=colour, width=thick))
    for start, end in edges if pattern.blocks else ():
        group.add(rule(*start, *end, colour=INK if pattern.are_dark else SHEET, width=width, dash=list(pattern.blocks)))
    return group


def _mitred(edges, reach: float):
    """Return the segments, longer by `reach` where one meets another, so that corners close."""
    counts: dict[tuple[float, float], int] = {}
    for point in (point for edge in edges for point in edge):
        counts[point] = counts.get(point, 0) + 1
    for start, end in edges:
        dx, dy = (sign(end[axis] - start[axis]) * reach for axis in (0, 1))
        first = (start[0] - dx, start[1] - dy) if counts[start] > 1 else start
        yield first, (end[0] + dx, end[1] + dy) if counts[end] > 1 else end


def sign(value: float) -> int:
    return (value > 0) - (value < 0)


def still_pipe(edges, gas: str) -> Group:
    """Return line segments without flow: thin and dashed."""
    return Group(*(rule(*s, *e, colour=INK, width=STILL_WIDTH, dash=list(PATTERNS[gas].still)) for s, e in edges))
