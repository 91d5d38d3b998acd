"""From the bytes of an XLSX file to rows of cells, without trusting the file."""

import io
import zipfile
import zlib
from dataclasses import dataclass
from datetime import date, datetime

from fleet.late import openpyxl, openpyxl_utils
from fleet.register_file.delimited import clean
from fleet.register_file.kinds import FileKind
from fleet.register_file.problems import Question, Unreadable
from fleet.register_file.settings import MAX_COLUMNS, MAX_ROWS
from fleet.register_file.synonyms import plain_name
from fleet.register_file.workbook_content import ACCEPTED, count_content

MAX_UNPACKED = 150 * 1024 * 1024
MAX_PARTS = 2_000
HEAD_ROWS = 30
OLD_CONTAINER = b"\xd0\xcf\x11\xe0"  # compound file: an XLS from before 2007, or an XLSX with a password
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
DAMAGED = (zipfile.BadZipFile, zlib.error, OSError, ValueError, NotImplementedError, RuntimeError, EOFError)


@dataclass(frozen=True, slots=True)
class NoValue:
    """A formula whose result is not stored in the file."""

    formula: str

    def __str__(self):
        return self.formula


@dataclass(frozen=True, slots=True)
class SheetRows:
    """The content of one sheet: rows that are not blank, as (row number, cells)."""

    sheet: str
    sheets: tuple[str, ...]
    rows: list
    notes: tuple[str, ...]
    questions: tuple[Question, ...]


def is_workbook(data: bytes) -> bool:
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06", OLD_CONTAINER))


def workbook_rows(data: bytes, kind: FileKind, sheet: str | None) -> SheetRows:
    """Read one sheet, the one with most known columns unless `sheet` names another. Raises Unreadable."""
    contents = _examine(data)
    try:
        return _read(data, kind, sheet, contents)
    except (Unreadable, MemoryError):
        raise
    except Exception as error:  # for a damaged file the reader raises any error, from KeyError to struct.error
        message = f"The file is damaged: it cannot be read as a workbook ({type(error).__name__})."
        raise Unreadable(message, f"{ACCEPTED} Open it in the spreadsheet and save it again.") from None


def unpacked_bytes(data: bytes) -> int:
    """Return the unpacked size that a workbook declares; 0 if it is no archive."""
    if not data.startswith(b"PK"):
        return 0
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return sum(part.file_size for part in archive.infolist())
    except DAMAGED:
        return 0


def _examine(data):
    """Refuse a workbook that cannot be a register, and return the content of each of its parts by name."""
    if data.startswith(OLD_CONTAINER):
        if ENCRYPTED in data:
            raise Unreadable("The workbook is encrypted with a password.", ACCEPTED)
        raise Unreadable("The file is a workbook of the old XLS format.", ACCEPTED)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _refuse_parts(archive)
            return count_content(archive)
    except DAMAGED:
        raise Unreadable("The file is damaged: it is not a complete XLSX workbook.", ACCEPTED) from None


def _refuse_parts(archive):
    parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MAX_UNPACKED or len(parts) > MAX_PARTS:
        message = f"The workbook unpacks to {unpacked:,} bytes in {len(parts):,} files, far more than a register."
        raise Unreadable(message, f"at most {MAX_UNPACKED:,} bytes. Copy the table into a new workbook.")
    names = {part.filename for part in parts}
    if any(part.flag_bits & 1 for part in parts):
        raise Unreadable("The workbook is encrypted with a password.", ACCEPTED)
    if "xl/workbook.bin" in names:
        raise Unreadable("The file is a binary workbook (XLSB).", ACCEPTED)
    if "mimetype" in names:
        raise Unreadable("The file is a spreadsheet of another format.", ACCEPTED)
    if "[Content_Types].xml" not in names:
        raise Unreadable("The file is an archive, not a workbook.", ACCEPTED)


def _read(data, kind, wanted, contents):
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    try:
        sheets = {sheet.title: sheet for sheet in book.worksheets}
        name, questions = _choose(sheets, kind, wanted)
        sheet = sheets[name]
        content = contents[sheet._worksheet_path]
        last_row = content.last_row or 1  # openpyxl takes 0 for no limit
        rows = _rows(sheet, last_row)
        formulas = _formulas(data, name, last_row) if content.has_formulas else {}
    finally:
        book.close()
    grid = dict(rows)
    for (row, column), formula in formulas.items():
        cells = grid.get(row)
        if cells is None:
            cells = grid.setdefault(row, [])
        cells.extend([""] * (column + 1 - len(cells)))
        if cells[column] == "":
            cells[column] = NoValue(formula[:80])
    merged = _spread(grid, content.merges)
    return SheetRows(name, tuple(sheets), sorted(grid.items()), merged, questions)


def _choose(sheets, kind, wanted):
    if not sheets:
        raise Unreadable("The workbook has no sheet with cells.", ACCEPTED)
    if wanted is not None:
        if wanted not in sheets:
            raise Unreadable(f"The workbook has no sheet called “{wanted}”.", f"{', '.join(sheets)}.")
        return wanted, ()
    known = {name: _known(sheet, kind) for name, sheet in sheets.items()}
    filled = {name: count for name, count in known.items() if count is not None}
    if not filled:
        raise Unreadable("The file is empty.", "a header row and at least one row below it.")
    best = max(filled, key=filled.get)
    rivals = [name for name, count in filled.items() if name != best and (count > 1 or filled[best] < 2)]
    if not rivals:
        return best, ()
    text = f"Several sheets of the workbook could be the register; “{best}” was read. Which sheet is right?"
    return best, (Question("sheet", text),)


def _known(sheet, kind):
    """Return how many known columns the best row of the head has; None for a sheet without cells in its head."""
    best = None
    sheet.reset_dimensions()
    for row in sheet.iter_rows(max_row=HEAD_ROWS, max_col=MAX_COLUMNS, values_only=True):
        texts = [str(value) for value in row if value is not None]
        if texts:
            names = {plain_name(text) for text in texts[:MAX_COLUMNS]}
            best = max(best or 0, len(names & kind.names.keys()))
    return best


def _rows(sheet, last_row):
    rows = []
    sheet.reset_dimensions()
    # workbook_content.py has checked that there are no values beyond this column and row.
    for number, values in enumerate(sheet.iter_rows(max_row=last_row, max_col=MAX_COLUMNS, values_only=True), start=1):
        if values.count(None) == len(values):
            continue
        cells = [_cell(value) for value in values]
        while cells and cells[-1] == "":
            cells.pop()
        if not cells:
            continue
        rows.append((number, cells))
        if len(rows) > MAX_ROWS + 2_000:
            raise Unreadable(f"The file has more than {MAX_ROWS:,} rows.", f"at most {MAX_ROWS:,} rows a file.")
    return rows


def _cell(value):
    if value is None:
        return ""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, (bool, int, float, date)):
        return value
    return str(value)


def _formulas(data, name, last_row):
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False)
    found = {}
    try:
        sheet = book[name]
        sheet.reset_dimensions()
        for row in sheet.iter_rows(max_row=last_row, max_col=MAX_COLUMNS):
            for cell in row:
                if getattr(cell, "data_type", "") == "f":
                    found[cell.row, cell.column - 1] = str(cell.value)
    finally:
        book.close()
    return found


def _spread(grid, merges):
    """Copy the value of cells merged downwards into each of their rows."""
    notes = []
    for number, first, last in merges:
        column = number - 1
        value = grid.get(first, [])[column : column + 1]
        if not value or value[0] == "":
            continue
        for row in range(first + 1, last + 1):
            cells = grid.get(row)
            if cells is not None:
                cells.extend([""] * (column + 1 - len(cells)))
                cells[column] = value[0]
        if len(notes) < 20:
            letters = openpyxl_utils.get_column_letter(number)
            span = f"{letters}{first} to {letters}{last}"
            notes.append(f"Cells {span} are merged; “{str(value[0])[:40]}” is used for each of these rows.")
    return tuple(notes)
