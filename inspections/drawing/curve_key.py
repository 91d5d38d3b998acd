"""The key below a curve, for a picture at whose right its labels have no room."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.drawing import INK, REGULAR, fit_text, label, point_marker, rule, wrap_text

from .plot import LINE_HEIGHT, SIDE_LINES, Field


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


def key_height(entries: Sequence[KeyEntry], text: float) -> float:
    """Return the height that the key takes below the title of the x axis, in points."""
    return (len(entries) + 0.3) * text * LINE_HEIGHT


def draw_key(field: Field, entries: Sequence[KeyEntry]) -> None:
    """Set one row for each entry at the foot of the drawing: a sample of it, then its words."""
    start, end = field.text * 0.4, field.text * 2.6
    words_at = end + field.text * 0.6
    for row, entry in enumerate(reversed(entries)):
        middle = (row + 0.5) * field.text * LINE_HEIGHT
        if entry.line:
            sample = rule(start, middle, end, middle, colour=entry.colour, width=entry.line, dash=entry.dash)
            field.drawing.add(sample)
        if entry.marker >= 0:
            place = (start + end) / 2, middle, field.text * 0.55
            field.drawing.add(point_marker(entry.marker, *place, colour=entry.colour))
        words = fit_text(entry.words, field.drawing.width - words_at, field.text, entry.font)
        field.drawing.add(
            label(words_at, middle - field.text * 0.32, words, field.text, font=entry.font, colour=entry.colour)
        )
