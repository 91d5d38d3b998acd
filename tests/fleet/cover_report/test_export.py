"""The exports hold the content of the page, and nothing that a spreadsheet would run."""

import csv
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from fleet.cover_report import CoverFilter, build_report, select_machines
from fleet.cover_report.paper import MOST_ROWS, write_pdf
from fleet.cover_report.queries import Unneeded
from fleet.cover_report.sheets import write_csv, write_xlsx
from fleet.export.cells import csv_cell
from tests.factories import TODAY, make_machine

FORMULA = "=1+1"


def written(write, **given):
    wanted = CoverFilter(**{"on": TODAY, "today": TODAY, **given})
    unneeded = Unneeded()
    machines = select_machines(wanted, None, unneeded)
    return write(build_report(machines, wanted, unneeded), machines.with_place(), "Made for Hester Brandt")


def csv_rows(content):
    return list(csv.DictReader(StringIO(content.decode("utf-8-sig"))))


def test_the_csv_has_a_row_for_each_machine_and_a_word_for_each_state(fleet):
    rows = csv_rows(written(write_csv))
    assert [row["Asset number"] for row in rows] == ["A-1", "A-2", "A-3", "A-4"]
    assert [row["Minimum oxygen ratio protection"] for row in rows] == [
        "not fitted", "fitted", "does not apply", "replaced by another",
    ]  # fmt: skip
    assert rows[0]["Scavenging connector the size of a breathing connector"] == "present (unwanted)"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_begins_like_a_formula_is_defused(start):
    assert csv_cell(f"{start}1+1") == f"'{start}1+1"
    assert (csv_cell("1+1"), csv_cell(-12)) == ("1+1", "-12")


def test_a_formula_in_the_register_reaches_no_spreadsheet_as_one(db):
    make_machine(asset_number=FORMULA, serial="@SUM(A1)")
    row = csv_rows(written(write_csv))[0]
    assert (row["Asset number"], row["Serial"]) == (f"'{FORMULA}", "'@SUM(A1)")
    cell = load_workbook(BytesIO(written(write_xlsx)))["Machines"]["A2"]
    assert (cell.value, cell.data_type) == (f"'{FORMULA}", "s")


def test_the_workbook_has_typed_cells_a_fixed_head_totals_and_what_was_asked(fleet):
    book = load_workbook(BytesIO(written(write_xlsx, site=fleet["A-1"].site)))
    assert book.sheetnames == ["Machines", "Totals", "Circuits", "Criteria"]
    machines, totals, _, criteria = book.worksheets
    assert machines.freeze_panes == "B2" and machines.max_row == 3
    assert machines["E2"].value == 2010 and machines["E2"].data_type == "n"
    row = next(row for row in totals.iter_rows(values_only=True) if row[1] == "Minimum oxygen ratio protection")
    assert row[:8] == ("essential", "Minimum oxygen ratio protection", 1, 1, 0, 0, 0, 1)
    assert row[8] == pytest.approx(0.5)
    asked = dict(criteria.iter_rows(min_row=2, max_col=2, values_only=True))
    assert (asked["As of"], asked["Site"], asked["Machines in this report"]) == ("2 Nov 2026", "North", 2)


def pdf_text(content):
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)


def test_the_paper_says_the_filter_the_numbers_the_cautions_and_its_pages(fleet):
    content = written(write_pdf, site=fleet["A-1"].site)
    words = pdf_text(content)
    pages = len(PdfReader(BytesIO(content)).pages)
    assert f"Page 1 of {pages}" in words and f"Page {pages} of {pages}" in words
    for expected in ("As of 2 Nov 2026", "North", "Made for Hester Brandt", "Vaporizer exclusion 0 2 0 0 0 2 100 %"):
        assert expected in words
    assert "not a pre-use check" in words and "A-2" in words
    assert "A-3" not in words


def test_the_paper_of_a_filter_that_finds_nothing_says_so(fleet):
    assert "No machine meets these conditions." in pdf_text(written(write_pdf, status="withdrawn"))


def test_a_fleet_too_large_for_paper_is_summed_up_and_sent_to_the_workbook(fleet, monkeypatch):
    monkeypatch.setattr("fleet.cover_report.paper.MOST_ROWS", 3)
    words = pdf_text(written(write_pdf))
    assert "matrix of 4 machines is left out" in words and "Vaporizer exclusion" in words
    assert MOST_ROWS == 500


def test_the_same_report_gives_the_same_paper(fleet):
    assert written(write_pdf) == written(write_pdf)


def test_an_export_reads_the_states_of_a_larger_fleet_in_the_same_number_of_queries(fleet, django_assert_num_queries):
    with django_assert_num_queries(9):  # rules and rows of the current state, machines, circuits
        written(write_csv)
    for number in range(20):
        make_machine(asset_number=f"B-{number}", model=fleet["A-1"].model, area=fleet["A-1"].area)
    with django_assert_num_queries(9):
        written(write_csv)
