"""Remarks, photographs and corrections of a record on paper."""

from reportlab.platypus import KeepTogether, Spacer

from fleet.days import long_moment
from fleet.documents import Heading, arranged, photograph, struck, text

IN_A_ROW = 3
GAP = 10
TALLEST = 150  # points
SHORT = 16  # digits of a digest below its photograph


def corrected(corrections, zone, style="note"):
    """Return what a place said before, struck out, with who changed it and when."""
    return [struck(one.text, f"{one.verb} by {one.by}, {_moment(one.at, zone)}", style) for one in corrections]


def corrected_elsewhere(step, zone):
    """Return the corrections of a step that are not beside a reading."""
    parts = []
    for one in step.corrections:
        words = f"{one.verb} by {one.by}, {_moment(one.at, zone)}"
        parts.append(struck(one.text, words, "note", before=f"{one.place}: "))
    return parts


def notes_section(record, zone, paper):
    """Return the remarks and photographs of all steps; nothing for a record that has none."""
    noted = [step for step in record.steps if step.remark or step.photographs]
    parts = [Heading("Remarks and photographs")] if noted else []
    for step in noted:
        head = [text(step.title, "small-strong")]
        if remark := step.remark:
            head += [text(remark.text, "small"), text(f"{remark.by}, {_moment(remark.at, zone)}", "note")]
        parts += [KeepTogether([*head, Spacer(1, 4)]), *_grid(step.photographs, zone, paper.width)]
    return parts


def _grid(photographs, zone, width):
    """Return the photographs three in a row, each row kept together."""
    if not photographs:
        return []
    each = (width - GAP * (IN_A_ROW - 1)) / IN_A_ROW
    cells = [_cell(taken, zone, each) for taken in photographs]
    cells += [""] * (-len(cells) % IN_A_ROW)
    rows = [cells[first : first + IN_A_ROW] for first in range(0, len(cells), IN_A_ROW)]
    return [arranged(rows, [each + GAP] * (IN_A_ROW - 1) + [each]), Spacer(1, 4)]


def _cell(taken, zone, width):
    words = [text(taken.caption, "small")] if taken.caption else []
    return [
        _picture(taken, width),
        Spacer(1, 2),
        *words,
        text(f"{taken.by}, {_moment(taken.at, zone)}. SHA-256 {taken.digest[:SHORT]}…", "note"),
    ]


def _picture(taken, width):
    """Return the picture that was signed for, or the statement that it is not stored any more."""
    preview = taken.preview
    if preview is None:
        return text("The picture that was signed for is not stored any more.", "small-alarm")
    across, along = taken.content["width"], taken.content["height"]
    scale = min(width / across, TALLEST / along)
    said = taken.caption or f"Photograph by {taken.by}"
    return photograph(preview, across * scale, along * scale, said)


def _moment(at, zone):
    return long_moment(at.astimezone(zone))
