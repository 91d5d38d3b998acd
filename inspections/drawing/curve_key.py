"""The key below a curve, for a picture at whose right its labels have no room."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.drawing import INK, REGULAR, label, point_marker, rule, wrap_text

from .plot import LINE_HEIGHT, SIDE_LINES, Field

WORDS_AT = 3.2  # where the words of the key begin, in heights of the text


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """One series or marked value: its words, and how its line and its points look.

    line    width of the line, 0 for none
    marker  number of the marker (point_marker), -1 for none
    """

    words: str
    colour: object = INK
    font: str = REGULAR
    line: float = 0.0
    dash: Sequence[float] | None = None
    marker: int = -1


def fits_beside(entries: Sequence[KeyEntry], room: float, height: float, text: float) -> bool:
    """Return whether every label is whole in `room` points of width, and all together in `height`."""
    blocks = [wrap_text(entry.words, room, text, entry.font, lines=SIDE_LINES) for entry in entries]
    whole = all(" ".join(block) == " ".join(entry.words.split()) for entry, block in zip(entries, blocks, strict=True))
    return whole and sum(map(len, blocks)) * text * LINE_HEIGHT <= height


def key_height(entries: Sequence[KeyEntry], width: float, text: float) -> float:
    """Return the height that the key takes below the title of the x axis, in points."""
    return (sum(len(_lines(entry, width, text)) for entry in entries) + 0.3) * text * LINE_HEIGHT


def draw_key(field: Field, entries: Sequence[KeyEntry]) -> None:
    """Set the entries at the foot of the drawing: a sample of each, then its words in two lines at most."""
    pitch, row = field.text * LINE_HEIGHT, 0
    for entry in reversed(entries):
        lines = _lines(entry, field.drawing.width, field.text)
        row += len(lines)
        _draw_sample(field, entry, (row - 0.5) * pitch)
        for number, words in enumerate(lines):
            y = (row - number - 0.5) * pitch - field.text * 0.32
            field.drawing.add(label(WORDS_AT * field.text, y, words, field.text, font=entry.font, colour=entry.colour))


def _lines(entry, width, text):
    return wrap_text(entry.words, width - WORDS_AT * text, text, entry.font, lines=2) or [""]


def _draw_sample(field, entry, middle):
    start, end = field.text * 0.4, field.text * 2.6
    if entry.line:
        field.drawing.add(rule(start, middle, end, middle, colour=entry.colour, width=entry.line, dash=entry.dash))
    if entry.marker >= 0:
        place = (start + end) / 2, middle, field.text * 0.55
        field.drawing.add(point_marker(entry.marker, *place, colour=entry.colour))
