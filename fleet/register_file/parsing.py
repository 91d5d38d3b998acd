"""From the bytes of a CSV file to checked rows and problems."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

from fleet.register_file.cells import CellRefused, value_of
from fleet.register_file.columns import COLUMNS, accepted_columns
from fleet.register_file.problems import Problem

MAX_ROWS = 10_000
MAX_BYTES = 10 * 1024 * 1024
OTHER_DELIMITERS = {";": "semicolons", "\t": "tabs", "|": "bars"}
SIGN_OF_A_HEADER = "asset_number"


@dataclass(frozen=True, slots=True)
class ParsedRow:
    """One machine: `number` is the row as a spreadsheet counts; `values` holds what is not blank and is readable."""

    number: int
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class ParsedFile:
    """What a file says: the columns it has, the rows that name a machine, and everything wrong with it."""

    columns: tuple[str, ...]
    rows: tuple[ParsedRow, ...]
    problems: tuple[Problem, ...]


class _Unreadable(Exception):
    """The file as a whole cannot be read; holds the one Problem that says why."""

    def __init__(self, message, accepted, value="", row=0):
        super().__init__(message)
        self.problem = Problem(row, "", value, message, accepted)


def parse_register(data: bytes) -> ParsedFile:
    """Read a register file: UTF-8 (with or without byte-order mark), comma separated, header first.

    data  at most MAX_BYTES with at most MAX_ROWS rows below the header
    Never raises for what the file says: problems hold it all, by row, column, value and what is accepted.
    """
    try:
        table = _table(_text_of(data))
        header, header_problems = _header(table[0])
    except _Unreadable as unreadable:
        return ParsedFile((), (), (unreadable.problem,))
    if header_problems:
        return ParsedFile(tuple(header), (), tuple(header_problems))
    return _rows(header, table)


def _text_of(data):
    if len(data) > MAX_BYTES:
        raise _Unreadable(f"The file has {len(data):,} bytes.", f"at most {MAX_BYTES:,} bytes. Split it in two.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise _Unreadable(
            f"The file is not UTF-8 text: byte {data[error.start]:#04x} in row {row} is not part of a character.",
            "CSV saved as UTF-8 (in a spreadsheet: “CSV UTF-8”).",
        ) from None
    if "\0" in text:
        raise _Unreadable("The file holds zero bytes, so it is not plain text.", "CSV saved as UTF-8.")
    if not text.strip():
        raise _Unreadable("The file is empty.", "a header row and at least one machine.")
    return text


def _table(text):
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    table = []
    try:
        for cells in reader:
            table.append([cell.strip() for cell in cells])
            if len(table) > MAX_ROWS + 1:
                raise _Unreadable(
                    f"The file has more than {MAX_ROWS:,} rows.", f"at most {MAX_ROWS:,} machines a file."
                )
    except csv.Error as error:
        accepted = "comma separated cells; a cell with a comma or a quotation mark stands in quotation marks."
        message = f"Row {len(table) + 1} cannot be taken apart into cells ({error})."
        raise _Unreadable(message, accepted, row=len(table) + 1) from None
    return table


def _header(cells):
    """Return the column names and the problems of the header row."""
    names = [cell.lower().replace(" ", "_") if cell.lower() not in COLUMNS else cell.lower() for cell in cells]
    _refuse_other_shape(cells, names)
    problems = []
    for position, name in enumerate(names):
        if name not in COLUMNS:
            shown = cells[position] or f"(column {position + 1}, no name)"
            problems.append(Problem(1, shown, cells[position], "is not a column of the register.", accepted_columns()))
        elif name in names[:position]:
            problems.append(Problem(1, name, cells[position], "names the same column twice.", "each column once."))
    return names, problems


def _refuse_other_shape(cells, names):
    first = ",".join(cells)
    if SIGN_OF_A_HEADER in names:
        return
    for delimiter, word in OTHER_DELIMITERS.items():
        if delimiter in first:
            message = f"The columns are separated by {word}."
            raise _Unreadable(message, "columns separated by commas.", value=first[:80], row=1)
    message = "The first row is not a header: no column is called asset_number."
    raise _Unreadable(message, f"a first row that names the columns: {accepted_columns()}", value=first[:80], row=1)


def _rows(header, table):
    rows, problems, seen = [], [], {}
    for number, cells in enumerate(table[1:], start=2):
        if not any(cells):
            continue
        if len(cells) != len(header):
            problems.append(_wrong_width(number, cells, header))
            continue
        values, wrong = _values(number, header, cells)
        problems += wrong
        problems += _asset_problems(number, values, wrong, seen)
        if "asset_number" in values:
            rows.append(ParsedRow(number, values))
    if not rows and not problems:
        problems.append(Problem(0, "", "", "The file names no machine.", "at least one row below the header."))
    return ParsedFile(tuple(header), tuple(rows), tuple(problems))


def _wrong_width(number, cells, header):
    message = f"The row has {len(cells)} cells, the header has {len(header)}."
    return Problem(number, "", "", message, f"{len(header)} cells; a text with a comma stands in quotation marks.")


def _values(number, header, cells):
    values, problems = {}, []
    for name, text in zip(header, cells, strict=True):
        if not text:
            continue
        try:
            values[name] = value_of(COLUMNS[name], text)
        except CellRefused as refused:
            problems.append(Problem(number, name, text[:80], refused.message, refused.accepted))
    return values, problems


def _asset_problems(number, values, wrong, seen):
    asset = values.get("asset_number")
    if asset is None:
        if any(problem.column == "asset_number" for problem in wrong):
            return []
        return [Problem(number, "asset_number", "", "is missing.", "the asset number of the machine.")]
    first = seen.setdefault(asset.casefold(), number)
    if first == number:
        return []
    message = f"stands in row {first} already."
    return [Problem(number, "asset_number", asset, message, "each asset number once in a file.")]
