"""A table as a CSV file, every row that the filters keep."""

from html import unescape

from django.utils.html import strip_tags
from django.utils.safestring import SafeData

from fleet.export.download import csv_download

HEADERS = {"Location": "Place", "Status": "Duty"}  # programs read these names; only the page has newer words


def csv_response(table, filename):
    """Answer with the whole table as CSV, without markup."""
    lines = table.as_values(exclude_columns=("select",))
    header = [HEADERS.get(name, name) for name in next(lines)]
    return csv_download(f"{filename}.csv", header, ([plain(cell) for cell in line] for line in lines))


def plain(cell):
    """The text of a cell; only what the table itself made markup of loses its tags."""
    if isinstance(cell, SafeData):
        return unescape(strip_tags(cell.replace("<br>", ", ")))
    return "" if cell is None else str(cell)
