"""From the text of a CSV file to rows of cells."""

import csv
import io
from collections import Counter
from itertools import islice

from fleet.export.defusing import undefused
from fleet.register_file.kinds import FileKind
from fleet.register_file.problems import Unreadable
from fleet.register_file.settings import DELIMITERS, MAX_COLUMNS, MAX_ROWS
from fleet.register_file.synonyms import plain_name

HEAD_CHARACTERS = 60_000
HEAD_ROWS = 40
MOST_LINES = MAX_ROWS + 2_000  # titles above the header, blank rows and repeated headers do not count as rows


def delimited_rows(text: str, kind: FileKind, delimiter: str | None) -> tuple[list, str]:
    """Return (row number, cells) of every row that is not blank, and the delimiter. Raises Unreadable.

    A first line such as “sep=;”, which spreadsheets write and hide, sets the delimiter and is no row.
    """
    first = text.split("\n", 1)[0].strip()
    if first[:4].lower() == "sep=" and first[4:] in DELIMITERS:
        text = text.split("\n", 1)[1] if "\n" in text else ""
        delimiter = delimiter or first[4:]
    delimiter = delimiter or _likely(text, kind)
    return _rows(text, delimiter), delimiter


def _rows(text, delimiter):
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows, number = [], 0
    try:
        for number, cells in enumerate(reader, start=1):
            if number > MOST_LINES:
                raise Unreadable(f"The file has more than {MAX_ROWS:,} rows.", f"at most {MAX_ROWS:,} rows a file.")
            if len(cells) > MAX_COLUMNS and any(cell.strip() for cell in cells[MAX_COLUMNS:]):
                raise Unreadable(
                    f"Row {number} has {len(cells):,} cells.", f"at most {MAX_COLUMNS} columns.", row=number
                )
            cells = [clean(cell) for cell in cells[:MAX_COLUMNS]]
            if any(cells):
                rows.append((number, cells))
    except csv.Error as error:
        accepted = (
            "cells separated by commas, semicolons or tabs; put a cell that contains such a character "
            "in quotation marks."
        )
        message = f"Row {number + 1} cannot be split into cells ({error})."
        raise Unreadable(message, accepted, row=number + 1) from None
    return rows


def clean(cell: str) -> str:
    """Return the text of a cell: without outer blanks, with one kind of line end, defusing undone."""
    return undefused(cell.replace("\r\n", "\n").replace("\r", "\n").strip())


def _likely(text, kind):
    """Return the delimiter with which most headers are known; then the one that gives most rows of the same width."""
    return max(DELIMITERS, key=lambda delimiter: _score(text[:HEAD_CHARACTERS], kind, delimiter))


def _score(head, kind, delimiter):
    reader = csv.reader(io.StringIO(head, newline=""), delimiter=delimiter)
    rows = []
    try:
        rows.extend(islice(reader, HEAD_ROWS))
    except csv.Error:
        return (0, 0)
    known = max((len({plain_name(cell) for cell in row} & kind.names.keys()) for row in rows), default=0)
    widths = Counter(len(row) for row in rows if len(row) > 1)
    return known, max(widths.values(), default=0)
