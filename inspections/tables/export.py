"""A table as a CSV file, every row that the filters keep."""

import csv

from django.http import HttpResponse
from django.utils.html import strip_tags

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_response(table, filename):
    """Answer with the whole table as CSV in UTF-8, with a byte order mark so that spreadsheets read it as such."""
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{filename}.csv"'
    response.write("\ufeff")
    writer = csv.writer(response)
    for row in table.as_values(exclude_columns=("select",)):
        writer.writerow([plain(cell) for cell in row])
    return response


def plain(cell):
    """The text of a cell without markup; one that a spreadsheet would run as a formula is made text."""
    text = strip_tags(str("" if cell is None else cell).replace("<br>", ", "))
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
