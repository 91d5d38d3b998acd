"""One cell of a file for a spreadsheet: a text stays a text, a number a number, and no cell runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date

from fleet.characters import printable
from fleet.export.defusing import defused
from fleet.late import openpyxl, openpyxl_cells


class CsvRows:
    """Writes rows of a CSV file to `out`, with the cells of `csv_cell`; the only writer of CSV."""

    def __init__(self, out):
        self._writer = csv.writer(out)

    def write(self, cells: Iterable[object]):
        """Write one row; return what the `write` of `out` returns."""
        return self._writer.writerow([csv_cell(cell) for cell in cells])

    def write_all(self, rows: Iterable[Iterable[object]]) -> None:
        for row in rows:
            self.write(row)


def csv_cell(value: object) -> str:
    """Return the content of a CSV cell: texts are made harmless, numbers and dates stay as they are."""
    if value is None:
        return ""
    if isinstance(value, bool | int | float | date):
        return text_of(value)
    return safe_text(value)


def new_workbook() -> openpyxl.Workbook:
    """Return an empty workbook; the only place that makes one."""
    return openpyxl.Workbook(write_only=True)


def workbook_bytes(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def xlsx_row(sheet, cells: Sequence[object], *, numbers_as_text: bool = False) -> list:
    """Return the cells of a row: blanks, dates and numbers as such, everything else as text and never as a formula."""
    return [xlsx_cell(sheet, cell, numbers_as_text=numbers_as_text) for cell in cells]


def xlsx_cell(sheet, value: object, *, numbers_as_text: bool = False):
    if value is None or value == "":
        return None
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if isinstance(value, date) or (is_number and not numbers_as_text):
        return openpyxl_cells.WriteOnlyCell(sheet, value)
    words = csv_cell(value)
    cell = openpyxl_cells.WriteOnlyCell(sheet, words.replace("\r\n", "\n").replace("\r", "\n"))
    cell.data_type = "s"
    return cell


def text_of(cell) -> str:
    """Return the text of a cell as a person would write it."""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def safe_text(value: object) -> str:
    """Return a text that no spreadsheet runs or shortens, without unprintable characters."""
    return defused(printable(str(value)))
