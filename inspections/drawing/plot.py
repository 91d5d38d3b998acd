"""The ruled field that curves and trends share: axes, graduations, marked values and labels kept apart."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from reportlab.graphics.shapes import Drawing, Group

from fleet.drawing import (
    ACCENT,
    ACCENT_WASH,
    EDGE,
    INK,
    LINE,
    REGULAR,
    SEMIBOLD,
    SHEET,
    SOFT,
    box,
    fit_text,
    label,
    label_inside,
    nice_ticks,
    rule,
    text_width,
    tick_texts,
    wrap_text,
)

SIDE_SHARE = 0.3  # of the width, at most, for the labels at the right
LINE_HEIGHT = 1.15
SIDE_LINES = 3  # at most, for one label at the right


@dataclass(frozen=True, slots=True)
class SideLabel:
    """A label at the right of the field, beside the height y in points that it belongs to."""

    y: float
    words: str
    font: str = REGULAR
    colour: object = INK


@dataclass(frozen=True, slots=True)
class Field:
    """A drawing with a field on it: x and y ranges in display units, left, right, bottom, top in points."""

    drawing: Drawing
    text: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    left: float
    right: float
    bottom: float
    top: float

    def x(self, value: float) -> float:
        """Return the place of an x value in points, held within the field."""
        return _placed(value, self.x_range, self.left, self.right)

    def y(self, value: float) -> float:
        """Return the height of a y value in points, held within the field."""
        return _placed(value, self.y_range, self.bottom, self.top)


def _placed(value, ends, start, stop):
    share = (value - ends[0]) / (ends[1] - ends[0])
    return start + min(max(share, 0.0), 1.0) * (stop - start)


def padded_range(values: Sequence[float], *, from_zero: bool = False, share: float = 0.06) -> tuple[float, float]:
    """Return ends that hold the finite values with some room; a single value gets room of its own size.

    from_zero  begin at 0 where no value is negative and 0 is not far away
    Raises ValueError if a value is not finite.
    """
    if not all(isfinite(value) for value in values):
        raise ValueError(f"A picture needs finite numbers, got {list(values)!r}.")
    low, high = min(values, default=0.0), max(values, default=1.0)
    size = max(abs(low), abs(high))
    span = high - low if high - low > 1e-9 * size else 0.2 * size or 1.0
    if from_zero and 0 <= low < 0.6 * high:
        return 0.0, high + share * span
    padded = low - share * span if high > low else low - span / 2
    return (max(padded, 0.0) if low >= 0 and from_zero else padded), max(high + share * span, low + span / 2)


def side_width(words: Sequence[str], width: float, text: float) -> float:
    """Return how wide the labels at the right may be, 0 if there are none."""
    widest = max((text_width(word, text, SEMIBOLD) for word in words), default=0)
    return min(widest + text * 1.2, width * SIDE_SHARE) if words else 0.0


def left_width(y_range: tuple[float, float], height: float, text: float) -> float:
    """Return the room that the graduations of the y axis take at the left."""
    texts = tick_texts(_y_ticks(y_range, height, text))
    return max((text_width(word, text * 0.95) for word in texts), default=0) + text * 1.1


def _y_ticks(y_range, height, text):
    return nice_ticks(*y_range, max(2, int(height / (text * 2.6))))


def draw_sheet(field: Field) -> None:
    """Draw the background of bands and lines; it is drawn first."""
    field.drawing.add(box(field.left, field.bottom, field.right - field.left, field.top - field.bottom, SHEET))


def draw_field(field: Field, x_title: str, y_title: str) -> None:
    """Draw hairlines at the y graduations, both axes, and their titles."""
    ticks = _y_ticks(field.y_range, field.top - field.bottom, field.text)
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        y = field.y(tick)
        field.drawing.add(rule(field.left, y, field.right, y, colour=LINE, width=0.6))
        field.drawing.add(rule(field.left - field.text * 0.45, y, field.left, y))
        x, baseline = field.left - field.text * 0.65, y - field.text * 0.32
        field.drawing.add(label(x, baseline, words, field.text * 0.95, anchor="end", colour=SOFT))
    field.drawing.add(rule(field.left, field.bottom, field.left, field.top, width=1.1))
    field.drawing.add(rule(field.left, field.bottom, field.right, field.bottom, width=1.1))
    title = fit_text(y_title, field.drawing.width, field.text)
    field.drawing.add(label(0, field.drawing.height - field.text, title, field.text))
    if x_title:
        title = fit_text(x_title, field.drawing.width, field.text)
        end = max(field.right, text_width(title, field.text))
        field.drawing.add(label(end, field.bottom - field.text * 2.7, title, field.text, anchor="end"))


def draw_x_graduations(field: Field, ticks: Sequence[float], texts: Sequence[str], small: float | None = None) -> None:
    """Draw graduations and their texts along the x axis, leaving out texts that would touch; `small` = fine step."""
    if small and (field.x_range[1] - field.x_range[0]) / small < 500:
        tick = ticks[0] - small * 10
        while tick <= field.x_range[1]:
            if tick >= field.x_range[0]:
                x = field.x(tick)
                field.drawing.add(rule(x, field.bottom, x, field.bottom - field.text * 0.25, colour=EDGE, width=0.7))
            tick += small
    taken = 0.0
    for tick, words in zip(ticks, texts, strict=True):
        x, half = field.x(tick), text_width(words, field.text * 0.95) / 2
        field.drawing.add(rule(x, field.bottom, x, field.bottom - field.text * 0.45))
        if x - half >= taken and x + half <= field.drawing.width:
            y = field.bottom - field.text * 1.4
            field.drawing.add(label(x, y, words, field.text * 0.95, anchor="middle", colour=SOFT))
            taken = x + half + field.text * 0.4


def mark_look(kind: str) -> tuple[object, float, list[float] | None, str]:
    """Return colour, width, dash and font of a marked value: "limit", "result" or "note"."""
    if kind == "limit":
        return INK, 1.8, None, SEMIBOLD
    if kind == "result":
        return ACCENT, 1.4, None, SEMIBOLD
    return SOFT, 0.9, [3, 2], REGULAR


def draw_band(field: Field, axis: str, value: float, spread: float | None) -> None:
    """Wash the band of half width `spread` around a marked value, across the field."""
    if not spread:
        return
    if axis == "x":
        start, end = field.x(value - spread), field.x(value + spread)
        field.drawing.add(box(start, field.bottom, end - start, field.top - field.bottom, ACCENT_WASH))
    else:
        start, end = field.y(value - spread), field.y(value + spread)
        field.drawing.add(box(field.left, start, field.right - field.left, end - start, ACCENT_WASH))


def x_mark_rows(field: Field, marks: Sequence[tuple[float, str, str]]) -> int:
    """Return how many rows of labels are above the field for these (value, words, kind) on the x axis."""
    split = _label_split(field, sorted(marks))
    return max(split, len(marks) - split)


def draw_x_marks(field: Field, marks: Sequence[tuple[float, str, str]]) -> None:
    """Draw (value, words, kind) as upright lines with their labels above the field.

    The marks at the left are labelled to the left and the others to the right, outermost lowest, so that no line
    runs through the label of another and no two labels meet.
    """
    ordered = sorted(marks)
    split = _label_split(field, ordered)
    for index, (value, words, kind) in enumerate(ordered):
        row = index if index < split else len(ordered) - 1 - index
        colour, width, dash, font = mark_look(kind)
        x, y = field.x(value), field.top + field.text * (0.45 + row * LINE_HEIGHT)
        field.drawing.add(rule(x, field.bottom, x, y + field.text * 0.7, colour=colour, width=width, dash=dash))
        half = _half_label(field, words, kind)
        centre = x - half if index < split else x + half
        field.drawing.add(label_inside(centre, y, words, field.text, 0, field.drawing.width, font=font, colour=colour))


def _label_split(field, ordered):
    """Return how many marks are labelled to the left: about half of them, as long as every label is on the sheet."""
    count = len(ordered)
    half = (count + 1) // 2 if count > 1 else 0
    return min(range(count + 1), key=lambda split: (round(_overhang(field, ordered, split), 3), abs(split - half)))


def _overhang(field, ordered, split):
    """Return by how much the labels would leave the sheet, in points, if `split` marks were labelled to the left."""
    total = 0.0
    for index, (value, words, kind) in enumerate(ordered):
        x, room = field.x(value), 2 * _half_label(field, words, kind)
        total += max(room - x, 0.0) if index < split else max(x + room - field.drawing.width, 0.0)
    return total


def _half_label(field, words, kind):
    return text_width(words, field.text, mark_look(kind)[3]) / 2 + field.text * 0.35


def draw_side_labels(field: Field, labels: Sequence[SideLabel]) -> None:
    """Set labels at the right of the field, pushed apart so that none covers another, each with a leader.

    They stay below the top of the field, above which the labels of marks are, where there is room for all.
    """
    room = field.drawing.width - field.right - field.text
    pitch = field.text * LINE_HEIGHT
    wanted = sorted(labels, key=lambda one: one.y)
    blocks = [wrap_text(one.words, room, field.text, one.font, lines=SIDE_LINES) for one in wanted]
    heights = [max(len(block), 1) * pitch for block in blocks]
    highest = field.top if sum(heights) < field.top - field.bottom else field.drawing.height - 2 * field.text
    centres = spread_out([one.y for one in wanted], heights, field.bottom, highest)
    for one, block, centre in zip(wanted, blocks, centres, strict=True):
        field.drawing.add(_leader(field, one.y, centre, one.colour))
        baseline = centre + (len(block) - 1) * pitch / 2 - field.text * 0.32
        for number, line in enumerate(block):
            y = baseline - number * pitch
            field.drawing.add(label(field.right + field.text, y, line, field.text, font=one.font, colour=one.colour))


def _leader(field, y, centre, colour):
    elbow, group = field.right + field.text * 0.35, Group()
    group.add(rule(field.right, y, elbow, centre, colour=colour, width=0.6))
    group.add(rule(elbow, centre, field.right + field.text * 0.75, centre, colour=colour, width=0.6))
    return group


def spread_out(centres: Sequence[float], heights: Sequence[float], low: float, high: float) -> list[float]:
    """Return centres, in rising order, moved apart so that blocks of these heights do not overlap.

    They stay within [low, high] where there is room for all; else they are packed evenly from low to high.
    """
    total = sum(heights)
    if total >= high - low:
        step = (high - low) / max(len(heights), 1)
        return [low + step * (index + 0.5) for index in range(len(heights))]
    placed, floor_y = [], low
    for centre, height in zip(centres, heights, strict=True):
        placed.append(max(centre, floor_y + height / 2))
        floor_y = placed[-1] + height / 2
    ceiling = high
    for index in range(len(placed) - 1, -1, -1):
        placed[index] = min(placed[index], ceiling - heights[index] / 2)
        ceiling = placed[index] - heights[index] / 2
    return placed
