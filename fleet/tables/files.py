"""The rows of a list as a file for a spreadsheet."""

from datetime import date, datetime
from html import unescape

from django.utils.html import strip_tags
from django.utils.safestring import SafeData

from fleet.export.cells import new_workbook, workbook_bytes, xlsx_row
from fleet.export.download import csv_download, file_response

FORMATS = ("csv", "xlsx")
DASH = "—"  # how a page shows an empty cell


def list_file(name, header, rows):
    """Return the rows as a download; the end of the name says in which format."""
    cells = ([plain(cell) for cell in row] for row in rows)
    return csv_download(name, header, cells) if name.endswith(".csv") else _workbook(name, header, cells)


def plain(cell):
    """Return a cell without markup: a number or a day as such, everything else as text.

    Only what the table itself made markup of loses its tags.
    """
    if isinstance(cell, SafeData):
        return unescape(strip_tags(cell.replace("<br>", ", ")))
    if isinstance(cell, datetime):
        return cell.isoformat()
    if isinstance(cell, int | float | date):
        return cell
    return "" if cell in (None, DASH) else str(cell)


def _workbook(name, header, rows):
    book = new_workbook()
    sheet = book.create_sheet(name.removesuffix(".xlsx")[:31])
    sheet.append(xlsx_row(sheet, header))
    for row in rows:
        sheet.append(xlsx_row(sheet, row))
    return file_response(name, workbook_bytes(book))
