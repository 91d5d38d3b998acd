"""The key under the picture: the meaning of each line and each sign that occurs in it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Group

from fleet.catalogue import GASES
from fleet.circuit.drawing.captions import Caption
from fleet.circuit.drawing.condition_notes import Mark
from fleet.circuit.drawing.gas_lines import pipe, still_pipe
from fleet.circuit.drawing.lanes import LANES, MIXED
from fleet.circuit.drawing.signs import bar_sign, corner_sign
from fleet.drawing import label, text_width

SIZE = 13.0
STEP = 22.0  # between lines of the key
SAMPLE = 40.0  # length of the sample line
STILL = "still"

_MARKS: Mapping[Mark, str] = {
    Mark.SHUT: "shut, as set or as intended",
    Mark.CUT: "cut off, or no supply",
    Mark.FAILED: "failed",
    Mark.TELLS: "alarms",
    Mark.OPEN: "gas escapes, or is where it does not belong",
}
_ARROWS = (Mark.OPEN, Mark.MOVED, Mark.WRONG)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line or sign: a gas, STILL or a mark, its words, and its position: x in points, row from the top."""

    what: str
    words: str
    x: float
    row: int


def key_entries(gases: Iterable[str], captions: Mapping[str, Caption], is_solved: bool, width: float) -> list[Entry]:
    """Return the entries for these gases and for the marks of the captions, on as many rows as the width needs."""
    marks = {mark for caption in captions.values() for mark in caption.marks}
    shown = {Mark.OPEN if mark in _ARROWS else mark for mark in marks}
    wanted = [(gas, GASES[gas].name if gas in GASES else "mixed gas") for gas in LANES if gas in set(gases)]
    wanted.append((STILL, "no flow" if is_solved else "pilot pressure"))
    wanted += [(mark, words) for mark, words in _MARKS.items() if mark in shown]
    found, x, row = [], 0.0, 0
    for what, words in wanted:
        needed = _lead(what) + text_width(words, SIZE) + 18
        if x and x + needed > width:
            x, row = 0.0, row + 1
        found.append(Entry(what, words, x, row))
        x += needed
    return found


def key_rows(entries: Sequence[Entry]) -> int:
    return entries[-1].row + 1


def _lead(what: str) -> float:
    return 24.0 if what in tuple(Mark) else SAMPLE + 6


def key(entries: Sequence[Entry], x: float, top: float, colours: str) -> Group:
    """Return the key with its upper left corner at (x, top)."""
    group = Group()
    for entry in entries:
        left, y = x + entry.x, top - (entry.row + 1) * STEP + 6
        group.add(_sample(entry.what, left, y + 4, colours))
        group.add(label(left + _lead(entry.what), y, entry.words, SIZE))
    return group


def _sample(what: str, x: float, y: float, colours: str) -> Group:
    edges = [((x, y), (x + SAMPLE, y))]
    if what == STILL:
        return still_pipe(edges, MIXED)
    if what in (Mark.SHUT, Mark.CUT):
        return bar_sign(x + 9, y, Mark(what), 8)
    if what in tuple(Mark):
        return corner_sign(x + 9, y, Mark(what))
    return pipe(edges, what, colours, 3.4)
