"""The expected result for each file of tests/fleet/register_files: a correct import or a clear error."""

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from fleet.register_file import COMPONENTS, EARLIER, INSTRUMENTS, MACHINES, FileKind, Settings

FOLDER = Path(__file__).parents[1] / "register_files"


@dataclass(frozen=True)
class Case:
    """`asks` are the expected questions; `said` the answers. `wrong`: (row, column, part of message) of each problem.

    made   number of records that are created; `values` of the first of them
    notes  parts of the notes that the person sees
    """

    kind: FileKind = MACHINES
    asks: tuple = ()
    said: Settings = Settings()
    wrong: tuple = ()
    made: int = 0
    values: dict = field(default_factory=dict)
    notes: tuple = ()


def right(made=2, **details):
    return Case(made=made, **details)


def wrong(*problems, **details):
    return Case(wrong=problems, **details)


def unreadable(part, row=0):
    return wrong((row, "", part))


DAY = date(1985, 3, 1)
CASES = {
    # split without questions
    "plain.csv": right(values={"serial": "S 1", "built_year": 1984, "in_use_from": DAY}),
    "semicolons.csv": right(values={"serial": "S 1"}),
    "tabs.tsv": right(values={"serial": "S 1"}),
    "bars.csv": right(values={"serial": "S 1"}),
    "sep_line.csv": right(values={"serial": "S 1"}),
    "byte_order_mark.csv": right(),
    "old_line_ends.csv": right(),
    "line_end_in_cell.csv": right(1, values={"note": 'first line\nsecond, with "quotes"'}),
    "blank_rows.csv": right(),
    "title_rows.csv": right(notes=("Row 4 is the header",)),
    "repeated_header.csv": right(notes=("repeated in row 3",)),
    "totals.csv": right(notes=("Row 4 is a total",)),
    "plain.xlsx": right(values={"built_year": 1984, "in_use_from": DAY}),
    "titled.xlsx": right(notes=("Row 4 is the header", "Row 8 is a total")),
    "merged_places.xlsx": right(notes=("D2 to D3 are merged", "E2 to E3")),
    "read_me_first.xlsx": right(),
    "formula.xlsx": right(values={"built_year": 1984}),
    "styled_far_out.xlsx": right(1),
    "strange_dimension.xlsx": right(),
    "numbers_and_truths.xlsx": right(1, values={"asset_number": "1001", "serial": "77", "built_year": 1984}),
    "dates.xlsx": right(4, notes=("since row 4 says 30/06/1991", "(1 cells)")),
    # questions
    "other_names.csv": right(asks=("columns",), values={"built_year": 1984, "in_use_from": DAY, "note": "ok"}),
    "unknown_columns.csv": right(asks=("columns",), said=Settings(columns={"Purchase price": "", "Colour": ""})),
    "unnamed_column.csv": right(
        1, asks=("columns",), said=Settings(columns={"(column 8)": "note"}), values={"note": "something"}
    ),
    "same_name_twice.csv": right(1, asks=("columns",), said=Settings(columns={"Serial": ""}), values={"serial": "S 1"}),
    "no_header.csv": wrong(
        (90, "", "is blank or does not exist"), asks=("columns",) * 3, said=Settings(header_row=90)
    ),
    "doubtful_dates.csv": right(
        asks=("dates",), said=Settings(date_order="month"), values={"in_use_from": date(1985, 3, 4)}
    ),
    "both_orders.csv": wrong((3, "in_use_from", "calendar"), asks=("dates",), said=Settings(date_order="day")),
    "two_registers.xlsx": right(
        1, asks=("sheet",), said=Settings(sheet="South"), values={"asset_number": "A-2"}
    ),
    "utf16.csv": right(1, values={"area.name": "Théâtre 2"}),
    "utf16_no_mark.csv": right(
        1, asks=("encoding",), said=Settings(encoding="utf-16-be"), values={"area.name": "Théâtre 2"}
    ),
    "latin1.csv": right(1, asks=("encoding",), said=Settings(encoding="latin-1"), values={"area.name": "Théâtre 2"}),
    "windows.csv": right(
        1, asks=("encoding",), said=Settings(encoding="cp1252"), values={"area.name": "Recovery – “east”"}
    ),
    "old_mac.csv": right(1, asks=("encoding",), said=Settings(encoding="mac-roman"), values={"area.name": "Théâtre 2"}),
    "neither_encoding.csv": wrong(
        (2, "area", "cannot be printed"),
        asks=("encoding",), said=Settings(encoding="latin-1"),
    ),
    # dates and years
    "day_first.csv": right(notes=("day first, since row 2",), values={"in_use_from": date(1985, 3, 31)}),
    "month_names.csv": right(values={"in_use_from": date(1985, 3, 31)}),
    "short_years.csv": wrong((2, "in_use_from", "more than one date")),
    "not_a_day.csv": wrong((2, "in_use_from", "calendar")),
    "in_the_future.csv": wrong((2, "in_use_from", "in the future")),
    "built_after_use.csv": wrong((2, "built_year", "later than the first day")),
    "year_as_date.csv": right(1, values={"built_year": 1984}),
    "year_for_date.xlsx": wrong((2, "in_use_from", "a number, not a date")),
    # words, sizes and changes by spreadsheets
    "yes_no.csv": right(4, values={
        "o2-analyser": "fitted", "ratio-protection": "not fitted", "low-pressure-alarm": "not known",
    }),
    "not_applicable.csv": wrong((2, "o2-analyser", "not accepted in this column")),
    "connector_sizes.csv": right(5, asks=("columns",), values={
        "scavenging-30mm": "fitted", "scavenging-breathing-size": "not fitted", "breathing-connectors": "fitted",
    }),
    "odd_size.csv": wrong((2, "scavenging_connector", "not a connector size"), asks=("columns",)),
    "contradiction.csv": wrong((2, "scavenging-30mm", "contradicts another column")),
    "statuses.csv": right(3, asks=("columns",), values={"status": "in service"}),
    "formula_texts.csv": right(3, values={"serial": "=1+1", "note": '=HYPERLINK("x")'}),
    "shortened_number.csv": wrong((2, "serial", "spreadsheet has shortened")),
    "error_cells.csv": wrong((2, "serial", "spreadsheet error")),
    "error_cell.xlsx": wrong((2, "built_year", "spreadsheet error")),
    "formula_without_value.xlsx": wrong((2, "built_year", "formula without a stored result")),
    "date_for_asset_number.xlsx": wrong((2, "asset_number", "is a date")),
    "too_long_number.xlsx": wrong((2, "serial", "dropped digits")),
    "lost_characters.csv": wrong((2, "serial", "replacement character")),
    "control_characters.csv": wrong((2, "serial", "cannot be printed")),
    # rows
    "twice.csv": wrong((3, "asset_number", "already in row 2")),
    "no_asset_number.csv": wrong((3, "asset_number", "is missing")),
    "short_row.csv": wrong((2, "", "3 cells, the header has 7")),
    "long_row.csv": wrong((2, "", "8 cells, the header has 7")),
    "one_column.csv": wrong(*((2, name, "is missing") for name in ("area", "in_use_from", "model", "site"))),
    "unknown_model_and_area.csv": wrong((2, "area", "is not an area"), (2, "model", "is not a machine model")),
    # no register files
    "empty.csv": unreadable("is empty"),
    "blank.csv": unreadable("is empty"),
    "empty.xlsx": unreadable("is empty"),
    "header_only.csv": unreadable("lists no machine"),
    "open_quotation.csv": unreadable("Row 2 cannot be split", 2),
    "zero_bytes.csv": unreadable("zero bytes"),
    "web_page.csv": unreadable("a web page"),
    "a_pdf.csv": unreadable("is a PDF"),
    "too_wide.csv": unreadable("407 cells", 1),
    "too_wide.xlsx": unreadable("407 cells", 1),
    "encrypted.xlsx": unreadable("encrypted with a password"),
    "old_format.xls": unreadable("old XLS format"),
    "cut_off.xlsx": unreadable("not a complete XLSX"),
    "broken_sheet.xlsx": unreadable("damaged"),
    "no_workbook.xlsx": unreadable("not a workbook"),
    "other_office.xlsx": unreadable("spreadsheet of another format"),
    "unpacks_to_3_gb.xlsx": unreadable("unpacks to 3,000"),
    "document_type.xlsx": unreadable("document type"),
    # other kinds
    "instruments.csv": Case(INSTRUMENTS, made=3, values={"name": "Gauge", "serial": "77"}),
    "instruments_wrong.csv": Case(INSTRUMENTS, wrong=(
        (2, "calibrated_on", "in the future"), (2, "due_on", "not after"), (2, "unit", "does not measure"),
        (2, "high", "not above"), (2, "resolution", "not more than 0"),
        (3, "name", "is missing"), (3, "site", "is not a site"), (3, "due_on", "is missing"),
        (4, "high", "more than one number"),
    )),
    "components.csv": Case(COMPONENTS, made=2, values={"serial": "R 1", "removed_on": date(2020, 6, 30)}),
    "components_wrong.csv": Case(COMPONENTS, wrong=(
        (3, "output_pressure", "units of this column"), (3, "label", "in place twice"),
        (4, "asset_number", "not a machine of the register"),
        (5, "kind", "not a kind"), (5, "gas", "not a gas"), (5, "fitted_on", "outside the period"),
    )),
    "earlier_inspections.csv": Case(EARLIER, asks=("columns", "due"), made=2, values={
        "result": "Pass", "reference": "WO 17",
    }),
    "earlier_wrong.csv": Case(EARLIER, asks=("due",), wrong=(
        (2, "done_on", "in the future"), (3, "procedure", "is missing"), (4, "counts_as", "not a procedure"),
    )),
}  # fmt: skip
