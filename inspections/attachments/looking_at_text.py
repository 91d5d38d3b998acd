"""Whether bytes are plain text or a table, in UTF-8 or in the older code page of Western spreadsheets."""

import csv
import re
from itertools import islice

from fleet.photographs.file_beginnings import kind_of

CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f-\x9f]")  # tab, line ends and form feed are text
COMPUTED = re.compile(r"\s*(?:[=@]|[+-]\s*[A-Za-z(])")  # "-1.5" is a number, "-A1" is computed
SEPARATORS = (";", "\t", ",")
LINES_LOOKED_AT = 50


def kind_of_text(data: bytes) -> tuple[str, str]:
    """Return the code of the kind and "", or "" and what is wrong, as a clause."""
    if other := kind_of(data):
        return "", f"is {other}, which is not accepted"
    text = _decoded(data)
    if text is None or CONTROL.search(text):
        return "", "is of no kind that is known here"
    if not text.strip():
        return "", "holds nothing but blanks"
    separator = _separator(text)
    if not separator:
        return "text", ""
    if cell := _computed_cell(text, separator):
        return "", f"has a cell that a spreadsheet would compute, “{cell}”. Save it as a PDF, or without that cell"
    return "csv", ""


def _decoded(data):
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return None


def _separator(text):
    """Return the sign that stands equally often in every line, if there are two lines or more; else ""."""
    lines = [line for line in islice(text.splitlines(), LINES_LOOKED_AT) if line.strip()]
    if len(lines) < 2:
        return ""
    for sign in SEPARATORS:
        counts = {len(row) for row in csv.reader(lines, delimiter=sign)}
        if len(counts) == 1 and counts.pop() > 1:
            return sign
    return ""


def _computed_cell(text, separator):
    for row in csv.reader(text.splitlines(), delimiter=separator):
        for cell in row:
            if COMPUTED.match(cell):
                return cell[:40]
    return ""
