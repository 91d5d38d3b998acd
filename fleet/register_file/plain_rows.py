"""A file of an instrument as rows of texts: no column is known beforehand, so delimiter and header follow its shape."""

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass
from datetime import date

from fleet.characters import printable
from fleet.register_file.decoding import decode
from fleet.register_file.delimited import delimited_rows
from fleet.register_file.kinds import FileKind
from fleet.register_file.numbers import number_in
from fleet.register_file.problems import Problem, Unreadable
from fleet.register_file.settings import DELIMITERS, ENCODINGS
from fleet.register_file.workbook import is_workbook, workbook_rows

MAX_BYTES = 1024 * 1024
MAX_ROWS = 500
MAX_COLUMNS = 60
LONGEST_CELL = 80
LONGEST_LABEL = 80
HEAD_ROWS = 60
ACCEPTED_ROWS = "a header row and at least one row below it."
NAMELESS = FileKind("", "", "row", "rows", {}, ("",), (), "")
NUMBER = re.compile(r"[+\-\N{MINUS SIGN}]?[0-9.,]+")
DATE_OR_TIME = re.compile(r"\s*[-:/][0-9]")
ONE_NUMBER = re.compile(r"[+\-\N{MINUS SIGN}]?(?:[0-9]+,[0-9]*|,[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?)[^,]*")
POINT_USED = re.compile(r"[+\-\N{MINUS SIGN}]?[0-9]*\.[0-9]+\D*")
COMMA_USED = re.compile(r"[+\-\N{MINUS SIGN}]?[0-9]*,[0-9]+\D*")


@dataclass(frozen=True, slots=True)
class PlainRows:
    """The labels of the columns, and the rows below them as (row number in the file, texts), as many as labels.

    form         how the file was split, in words
    header_row   number of the row with the labels; 0 where no row names the columns, which are numbered then
    decimal      the decimal sign that the cells use, empty where they show none or both
    """

    form: str
    labels: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    header_row: int
    decimal: str


def rows_or_problem(data: bytes) -> PlainRows | Problem:
    """Return what `plain_rows` returns, or the Problem of a file that cannot be read."""
    try:
        return plain_rows(data)
    except Unreadable as unreadable:
        return unreadable.problem


def plain_rows(data: bytes) -> PlainRows:
    """Split a CSV or XLSX file into labels and rows. Raises Unreadable."""
    if len(data) > MAX_BYTES:
        raise Unreadable(f"The file has {len(data):,} bytes.", f"at most {MAX_BYTES:,} bytes.")
    if is_workbook(data):
        book = workbook_rows(data, NAMELESS, None)
        form = f"XLSX, sheet “{book.sheet}”"
        rows = [(number, [_text(cell) for cell in cells]) for number, cells in book.rows]
    else:
        form, rows = _split(data)
    rows = [(number, _trimmed(cells)) for number, cells in rows]
    rows = [(number, cells) for number, cells in rows if cells]
    _refuse_large(rows)
    labels, header_row, body = _headed(rows)
    if not body:
        raise Unreadable("The file has no row of values below its header.", ACCEPTED_ROWS)
    width = len(labels)
    filled = tuple((number, tuple([*cells, *[""] * width][:width])) for number, cells in body)
    return PlainRows(form, labels, filled, header_row, _decimal(filled))


def _split(data):
    text, encoding, _ = decode(data, None)
    first, _, rest = text.partition("\n")
    if first.strip()[:4].lower() == "sep=" and first.strip()[4:] in DELIMITERS:
        delimiter, text = first.strip()[4:], rest
    else:
        delimiter = likely_delimiter(text)
    rows, _ = delimited_rows(text, NAMELESS, delimiter or "\t")
    parted = f"columns separated by {DELIMITERS[delimiter]}" if delimiter else "one column"
    return f"CSV, {ENCODINGS[encoding]}, {parted}", [(number, [str(cell) for cell in cells]) for number, cells in rows]


def likely_delimiter(text: str) -> str:
    """Return the delimiter with which most rows have the same width, empty for one column. Raises Unreadable.

    A comma counts last: it may be the decimal sign. Where every comma can be one, a header without a comma shows that
    it is; without a header the file has two meanings.
    """
    lines = [line for line in text.splitlines() if line.strip()][:HEAD_ROWS]
    scores = {delimiter: _rows_of_one_width(lines, delimiter) for delimiter in ("\t", ";", "|", ",")}
    best = max(scores, key=scores.get)
    if not scores[best]:
        return ""
    with_comma = [line for line in lines if "," in line]
    if best != "," or not all(ONE_NUMBER.fullmatch(line.strip()) for line in with_comma):
        return best
    if len(with_comma) < len(lines):
        return ""
    raise Unreadable(
        f"“{with_comma[0].strip()[:LONGEST_CELL]}” can be read as one number or as two cells.",
        "a header row, or a semicolon or tab between cells.",
    )


def _rows_of_one_width(lines, delimiter):
    try:
        widths = Counter(len(row) for row in csv.reader(io.StringIO("\n".join(lines), newline=""), delimiter=delimiter))
    except csv.Error:
        return 0
    return max((count for width, count in widths.items() if width > 1), default=0)


def _text(cell):
    if isinstance(cell, (bool, date)):
        return str(cell)
    return f"{cell:.12g}" if isinstance(cell, (int, float)) else str(cell)


def _trimmed(cells):
    """Return the cells as one line of printable text each, without empty ones at the end."""
    cells = [" ".join(printable(cell).split())[:LONGEST_CELL] for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _refuse_large(rows):
    if not rows:
        raise Unreadable("The file is empty.", ACCEPTED_ROWS)
    if len(rows) > MAX_ROWS:
        raise Unreadable(f"The file has {len(rows):,} rows.", f"at most {MAX_ROWS} rows.")
    number, widest = max(((number, len(cells)) for number, cells in rows), key=lambda row: row[1])
    if widest > MAX_COLUMNS:
        raise Unreadable(f"Row {number} has {widest:,} cells.", f"at most {MAX_COLUMNS} columns.", row=number)


def _headed(rows):
    """Return labels, number of the header row, and the rows below.

    The first row of the most cells is the header, else the one above it; without words in either there is none.
    """
    filled = [sum(cell != "" for cell in cells) for _, cells in rows]
    position = filled.index(max(filled))
    if _is_of_numbers(rows[position][1]) and position and 2 * filled[position - 1] >= filled[position]:
        position -= 1
    number, head = rows[position]
    width = max(len(cells) for _, cells in rows[position:])
    if _is_of_numbers(head):
        return tuple(f"Column {place + 1}" for place in range(width)), 0, rows[position:]
    labels = []
    for place in range(width):
        name = head[place][:LONGEST_LABEL] if place < len(head) and head[place] else f"Column {place + 1}"
        labels.append(_unique(name, labels))
    return tuple(labels), number, rows[position + 1 :]


def _is_of_numbers(cells):
    return 2 * sum(_is_numeric(cell) for cell in cells if cell) > sum(cell != "" for cell in cells)


def _is_numeric(cell):
    """Whether a cell is a number, with a unit behind it or none: no date, no time, no name."""
    number = NUMBER.match(cell)
    is_more = number is None or DATE_OR_TIME.match(cell[number.end() :])
    return not is_more and (number_in(number[0]) is not None or bool(ONE_NUMBER.fullmatch(number[0])))


def _unique(name, taken):
    number, label = 1, name
    while label in taken:
        number += 1
        label = f"{name} ({number})"
    return label


def _decimal(rows):
    cells = [cell for _, cells in rows for cell in cells]
    has_point = any(POINT_USED.fullmatch(cell) for cell in cells)
    has_comma = any(COMMA_USED.fullmatch(cell) for cell in cells)
    return "" if has_point == has_comma else "." if has_point else ","
