"""Remarks, photographs and corrections of a record on paper."""

from io import BytesIO

from reportlab.platypus import Image, KeepTogether, Spacer, Table, TableStyle

from fleet.days import long_moment
from fleet.documents import Heading, struck, text

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
    cells = [_cell(photograph, zone, each) for photograph in photographs]
    cells += [""] * (-len(cells) % IN_A_ROW)
    rows = [cells[first : first + IN_A_ROW] for first in range(0, len(cells), IN_A_ROW)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
    ]
    table = Table(rows, colWidths=[each + GAP] * (IN_A_ROW - 1) + [each], style=TableStyle(style), hAlign="LEFT")
    return [table, Spacer(1, 4)]


def _cell(photograph, zone, width):
    words = [text(photograph.caption, "small")] if photograph.caption else []
    return [
        _picture(photograph, width),
        Spacer(1, 2),
        *words,
        text(f"{photograph.by}, {_moment(photograph.at, zone)}. SHA-256 {photograph.digest[:SHORT]}…", "note"),
    ]


def _picture(photograph, width):
    """Return the picture that was signed for, or the statement that it is not stored any more."""
    preview = photograph.preview
    if preview is None:
        return text("The picture that was signed for is not stored any more.", "small-alarm")
    across, along = photograph.content["width"], photograph.content["height"]
    scale = min(width / across, TALLEST / along)
    return Image(BytesIO(preview), across * scale, along * scale, hAlign="LEFT")


def _moment(at, zone):
    return long_moment(at.astimezone(zone))
