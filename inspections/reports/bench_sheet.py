"""A blank bench sheet on paper, for the day on which no screen works: boxes to write in, beside last time's values.

Nothing is judged on it. The readings are typed in afterwards, in the same order.
"""

from collections import Counter

from reportlab.graphics.shapes import Drawing, Rect
from reportlab.platypus import KeepTogether, Spacer

from fleet.caution import COMES_FIRST, QUALIFIED
from fleet.days import long_date
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    caution_box,
    data_table,
    facts,
    picture,
    side_by_side,
    text,
    title_block,
)
from fleet.drawing import INK, SHEET, label, text_width
from fleet.place_format import current, quantities_in_words
from inspections.at_bench.blank_sheet import blank_steps

BOX_HEIGHT = 18
TICK = 11
TICK_TEXT = 8.2
ONE_LINE = 150  # points
PAPER_IS_NO_RECORD = (
    "This sheet is no record. Type the readings into the steps of the inspection, in this order, with the instruments "
    "that showed them: only there are they judged, and only a signature makes a record."
)


def write_bench_sheet(inspection, *, on) -> bytes:
    """Return the sheet of a planned inspection, or one in progress, as it is on the date `on`, on the site's paper."""
    machine = inspection.machine
    paper = Paper(
        title="Bench sheet",
        reference=f"{machine.asset_number}, {machine.model}",
        subject=f"{inspection.procedure} of machine {machine.asset_number}",
        made=f"{inspection}, printed {long_date(on)}",
    )
    steps = blank_steps(inspection, on=on)
    shared = _shared_cautions(steps)
    story = [*_head(inspection, shared, paper)]
    for number, blank in enumerate(steps, start=1):
        story += _step(number, blank, shared, paper.width)
    return build_pdf(paper, story)


def _shared_cautions(steps):
    """The cautions of at least half of the steps, which the head states once for all of them."""
    counted = Counter(caution for blank in steps for caution in dict.fromkeys(blank.cautions))
    return [caution for caution, times in counted.items() if times > 1 and 2 * times >= len(steps)]


def _head(inspection, shared, paper):
    machine = inspection.machine
    known = [
        ("Asset number", machine.asset_number),
        ("Serial", machine.serial or "not recorded"),
        ("Model", str(machine.model)),
        ("Location", f"{machine.area.name}, {machine.area.site.name}"),
    ]
    written = [("Date and time", ""), ("Technician", ""), ("Ambient pressure", ""), ("Room temperature", "")]
    boxes = [[text(words, "note"), _box(paper.width / 4 - 8)] for words, _ in written]
    return [
        *title_block("Bench sheet", f"{inspection.procedure} of machine {machine.asset_number}, {inspection}"),
        facts(known, paper.width, columns=4),
        side_by_side(boxes[0], boxes[1], [paper.width / 2] * 2),
        side_by_side(boxes[2], boxes[3], [paper.width / 2] * 2),
        Spacer(1, 4),
        caution_box([PAPER_IS_NO_RECORD, *map(_in_words, shared or (QUALIFIED, COMES_FIRST))], paper.width),
    ]


def _step(number, blank, shared, width):
    content = blank.step.content
    essential = " (essential)" if blank.step.is_essential else ""
    head = [Heading(f"{number}. {blank.step}{essential}", level=0, key=f"step-{number}")]
    words = content.get("item") or content.get("instruction", "")
    head += [text(_in_words(words), "small")] if words else []
    own = " ".join(caution for caution in blank.cautions if caution not in shared)
    head += [text(f"Caution: {_in_words(own)}", "note")] if own else []
    not_tested = side_by_side(_ticks(("Not tested, because:",)), _box(width * 0.72), [width * 0.22, width * 0.78])
    return [
        KeepTogether([*head, Spacer(1, 2), *_places(blank.places, width)]),
        *_tables(blank.tables, width),
        not_tested,
    ]


def _tables(tables, width):
    """Two narrow tables are set beside each other."""
    if len(tables) == 2 and all(len(table.columns) <= 2 for table in tables):
        half = width / 2
        return [KeepTogether([side_by_side(*(_table(table, half - 10) for table in tables), [half, half])])]
    return [KeepTogether(_table(table, width)) for table in tables]


def _places(places, width):
    if not places:
        return []
    rows = [
        [_named(place), place.last or "–", _answer(place, width * 0.3), _instrument(place, width * 0.18)]
        for place in places
    ]
    widths = [width * part for part in (0.34, 0.16, 0.31, 0.19)]
    return [data_table(["", "Last time", "Reading", "Instrument"], rows, widths)]


def _named(place):
    return place.label if place.required else f"{place.label} (optional)"


def _answer(place, width):
    if place.options:
        return _ticks(place.options)
    return _box(width, place.unit)


def _instrument(place, width):
    return _box(width) if place.needs_instrument and not place.options else ""


def _table(table, width):
    each = min((width - 24) / len(table.columns), 150)
    rows = []
    for row in range(table.rows):
        was = table.last[row] if row < len(table.last) else [""] * len(table.columns)
        rows.append([str(row + 1), *(_box(each - 10, last, is_hint=True) for last in was)])
    caption = table.label if table.is_needed else f"{table.label} (optional)"
    caption += ". In small print: last time." if table.last else ""
    return [
        Spacer(1, 4),
        text(caption, "small-strong"),
        data_table(["Row", *table.columns], rows, [24, *[each] * len(table.columns)]),
    ]


def _box(width, words="", *, is_hint=False):
    """A box to write in, with the unit, or last time's value as a hint, in small print in its right corner."""
    drawing = Drawing(width, BOX_HEIGHT)
    drawing.add(Rect(0.5, 0.5, width - 1, BOX_HEIGHT - 1, strokeColor=INK, strokeWidth=0.6, fillColor=SHEET))
    if words:
        size = 6 if is_hint else TICK_TEXT
        drawing.add(label(width - 4 - text_width(words, size), 3, words, size))
    return picture(drawing, words)


def _ticks(options):
    """Boxes to tick with their words: short ones on one line, longer ones below each other."""
    widths = [text_width(words, TICK_TEXT) + TICK + 18 for words in options]
    on_one_line = sum(widths) <= ONE_LINE
    lines = 1 if on_one_line else len(options)
    drawing = Drawing(sum(widths) if on_one_line else max(widths), (TICK + 5) * lines)
    for index, words in enumerate(options):
        left = sum(widths[:index]) if on_one_line else 0
        bottom = 2 if on_one_line else (TICK + 5) * (lines - 1 - index) + 2
        drawing.add(Rect(left + 0.5, bottom, TICK, TICK, strokeColor=INK, strokeWidth=0.6, fillColor=SHEET))
        drawing.add(label(left + TICK + 5, bottom + 2, words, TICK_TEXT))
    return picture(drawing, f"To tick: {', '.join(options)}")


def _in_words(sentence):
    return quantities_in_words(sentence, current())
