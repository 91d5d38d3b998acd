"""The cover report for a spreadsheet: CSV, or a workbook of three sheets."""

from io import StringIO
from itertools import islice

from fleet.catalogue import HAZARDS
from fleet.cover_report.by_circuit import open_hazards_of
from fleet.cover_report.report import CoverReport, machine_rows
from fleet.export.cells import CsvRows, new_workbook, workbook_bytes, xlsx_cell, xlsx_row
from fleet.late import openpyxl_styles, openpyxl_utils

PLACE_HEAD = ("Asset number", "Serial", "Manufacturer", "Model", "Built", "Site", "Area", "Status")
WORDS = {
    "unwanted": "present (unwanted)",
    "absent": "not present",
    "replaced": "replaced by another",
}
CIRCUIT_HEAD = ("Left open by its circuit",)
CHUNK = 500
TOTAL_HEAD = (
    "Class", "Safety feature", "Fitted", "Not fitted", "Not known", "Replaced by another", "Does not apply",
    "Gaps", "Share of gaps where it applies",
)  # fmt: skip


def table_rows(report: CoverReport, machines):
    """Yield the matrix as plain rows, the head first; `machines` are fetched with model, area and site."""
    yield [
        *PLACE_HEAD,
        *(feature.name for feature in report.wanted.columns),
        *(CIRCUIT_HEAD if report.circuits else ()),
    ]
    rows = machine_rows(machines.iterator(chunk_size=CHUNK), report.wanted, CHUNK)
    while batch := list(islice(rows, CHUNK)):
        opened = open_hazards_of([row.machine for row in batch]) if report.circuits else {}
        for row in batch:
            words = [cell.word for cell in row.cells]
            last = [_open_words(opened[row.machine.pk])] if report.circuits else []
            yield [*place_of(row.machine), *(WORDS.get(word, word) for word in words), *last]


def _open_words(codes):
    """Return what a circuit leaves open as the text of one cell; "not computed" is neither open nor closed."""
    return "not computed" if codes is None else "; ".join(HAZARDS[code].name for code in codes) or "none"


def place_of(machine):
    """Return the cells that identify a machine, in the order of PLACE_HEAD."""
    model = machine.model
    return [
        machine.asset_number,
        machine.serial,
        model.manufacturer,
        model.name,
        machine.built_year,
        machine.site.name,
        machine.area.name,
        machine.status,
    ]


def write_csv(report: CoverReport, machines, made: str) -> bytes:
    """Return the matrix in UTF-8 with a byte order mark for spreadsheets; formulas are made harmless."""
    text = StringIO(newline="")
    CsvRows(text).write_all(table_rows(report, machines))
    return text.getvalue().encode("utf-8-sig")


def write_xlsx(report: CoverReport, machines, made: str) -> bytes:
    """Return a workbook: the matrix, the totals, and the filter. Texts stay texts, counts are numbers."""
    book = new_workbook()
    _write_matrix(book.create_sheet("Machines"), report, machines)
    _write_totals(book.create_sheet("Totals"), report)
    if report.circuits:
        _write_circuits(book.create_sheet("Circuits"), report.circuits)
    _write_criteria(book.create_sheet("Criteria"), report, made)
    return workbook_bytes(book)


def _write_matrix(sheet, report, machines):
    rows = table_rows(report, machines)
    head = next(rows)
    _set_widths(sheet, [16, 16, 18, 20, 8, 24, 24, 12, *[13] * (len(head) - len(PLACE_HEAD))])
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = f"A1:{openpyxl_utils.get_column_letter(len(head))}{max(report.machines + 1, 2)}"
    sheet.append(_head_cells(sheet, head))
    for row in rows:
        sheet.append(xlsx_row(sheet, row))


def _write_totals(sheet, report):
    _set_widths(sheet, [12, 48, 10, 10, 10, 18, 14, 10, 16])
    sheet.freeze_panes = "A2"
    sheet.append(_head_cells(sheet, TOTAL_HEAD))
    for total in report.totals:
        counts = [total.fitted, total.not_fitted, total.doubt, total.replaced, total.does_not_apply, total.gap]
        row = [str(total.feature.feature_class), total.feature.name, *counts]
        sheet.append([*xlsx_row(sheet, row), _share_cell(sheet, total.gap_share)])
    sheet.append([])
    sheet.append(_head_cells(sheet, ["Hazard", "Safety features that cover it", "Machines that lack one", "Share"]))
    for each in report.hazards:
        names = ", ".join(feature.name for feature in each.features)
        sheet.append([*xlsx_row(sheet, [each.hazard.name, names, each.machines]), _share_cell(sheet, each.share)])
    sheet.append([])
    sheet.append(_head_cells(sheet, ["Site", "Area", "Machines", "With a gap", "Gaps", "Share with a gap"]))
    for site in report.sites:
        for area in site.areas:
            row = [site.name, area.name, area.machines, area.with_gap, area.gaps]
            sheet.append([*xlsx_row(sheet, row), _share_cell(sheet, area.share)])


def _write_circuits(sheet, view):
    """Write the hazards that the computed circuits leave open: in total, then by site and area."""
    _set_widths(sheet, [28, 28, 12, 14, 20, *[16] * 2 * len(view.hazards)])
    sheet.append(
        _head_cells(
            sheet,
            ["Hazard", "", "Machines", "Share", "With a cause that is not rare", "A safety feature would close it"],
        )
    )
    for each in view.hazards:
        row = xlsx_row(sheet, [each.hazard.name, "", each.machines])
        sheet.append([*row, _share_cell(sheet, each.share), each.likely, each.closable])
    sheet.append([])
    names = [name for each in view.hazards for name in (each.hazard.name, f"{each.hazard.name}, closable")]
    sheet.append(_head_cells(sheet, ["Site", "Area", "Machines", "Not computed", "With an open hazard", *names]))
    for site in view.sites:
        for area in site.areas:
            counts = [count for pair in area.counts for count in pair]
            sheet.append(xlsx_row(sheet, [site.name, area.name, area.machines, area.unknown, area.exposed, *counts]))


def _write_criteria(sheet, report, made):
    _set_widths(sheet, [24, 80])
    sheet.append(_head_cells(sheet, ["Filter", "Value"]))
    for pair in [*report.wanted.in_words(), ("Machines in this report", report.machines), ("Made", made)]:
        sheet.append(xlsx_row(sheet, pair))
    for note in NOTES:
        sheet.append(xlsx_row(sheet, ["Note", note]))


NOTES = (
    "“Not known” counts neither as fitted nor as a gap. Check the machine and record what is fitted.",
    "“Replaced by another” means that another fitted safety feature does the same job.",
    "Safety features, sites and areas are as recorded for the day of the report; identity is that of today.",
    "“Left open by its circuit” is computed from the gas circuit, one cause at a time: nothing on the machine stops "
    "the hazard or gives an alarm. “Not computed” means that the result is unknown.",
    "A register of safety features does not check a machine: follow the manufacturer's instructions and local codes.",
)


def _head_cells(sheet, words):
    cells = xlsx_row(sheet, words)
    for cell in filter(None, cells):
        cell.font = openpyxl_styles.Font(bold=True)
        cell.alignment = openpyxl_styles.Alignment(wrap_text=True, vertical="bottom")
    return cells


def _share_cell(sheet, share):
    cell = xlsx_cell(sheet, share)
    if cell is not None:
        cell.number_format = "0.0 %"
    return cell


def _set_widths(sheet, widths):
    for index, width in enumerate(widths, start=1):
        sheet.column_dimensions[openpyxl_utils.get_column_letter(index)].width = width
