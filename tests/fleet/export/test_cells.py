"""Cells of files for spreadsheets: nothing runs, nothing is shortened, and every text comes back as it was."""

import csv
import io
from datetime import date
from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from fleet.characters import printable
from fleet.export.cells import CsvRows, csv_cell, new_workbook, workbook_bytes, xlsx_row
from fleet.export.defusing import ERRORS, undefused

# Source of the signs: OWASP, CSV Injection.
STARTS = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", " =", "\u200b=", "\ufeff@", "'=", "''-"]
NUMBERS = ["1E5", "1e+5", "1.5E-3", "12E03", ".5E3", "1,5e4", " 1E5 "]
TEXT = st.text(st.characters(), max_size=20)
ANY = st.one_of(TEXT, st.builds(lambda start, text: start + text, st.sampled_from([*STARTS, *NUMBERS, *ERRORS]), TEXT))


@pytest.mark.parametrize("text", [f"{start}1+1" for start in STARTS] + NUMBERS + [*ERRORS, "#n/a"])
def test_what_a_spreadsheet_would_run_shorten_or_take_for_an_error_is_marked_as_text(text):
    assert csv_cell(text) == "'" + text
    assert undefused(csv_cell(text)) == text


@pytest.mark.parametrize("text", ["A-1", "E5", "1E", "0012", "3-12", "G=1", "# 4", "it's"])
def test_other_texts_stand_as_they_are(text):
    assert csv_cell(text) == text


@pytest.mark.parametrize(("value", "cell"), [(None, ""), (-5, "-5"), (1e22, "1e+22"), (2.0, "2"), (True, "TRUE"),
                                             (date(2026, 3, 1), "2026-03-01")])  # fmt: skip
def test_numbers_and_dates_are_no_texts(value, cell):
    assert csv_cell(value) == cell


@given(text=ANY)
def test_a_csv_file_gives_every_text_back(text):
    out = io.StringIO(newline="")
    CsvRows(out).write([text, "end"])
    (cell, _), *_ = csv.reader(io.StringIO(out.getvalue(), newline=""))
    assert undefused(cell) == printable(text)


@given(text=ANY.filter(bool))
def test_a_workbook_holds_every_text_as_text(text):
    book = new_workbook()
    sheet = book.create_sheet("x")
    sheet.append(xlsx_row(sheet, [text, None, -5]))
    cell, blank, number = next(load_workbook(io.BytesIO(workbook_bytes(book)))["x"].iter_rows())
    assert (cell.data_type, blank.value, number.value) == ("s", None, -5)
    assert undefused(cell.value) == printable(text).replace("\r\n", "\n").replace("\r", "\n")


def test_a_long_cell_costs_no_more_than_its_length():
    began = process_time()
    for text in ("1" * 32_000, "'" * 32_000, " " * 32_000, "\t" * 32_000, "1." * 16_000):
        csv_cell(text)
    assert process_time() - began < 2
