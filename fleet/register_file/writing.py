"""Write register files that can be imported again unchanged, and files with the problems beside the rows."""

import io
from collections.abc import Iterable, Mapping, Sequence

from fleet.export.cells import CsvRows, new_workbook, workbook_bytes, xlsx_row
from fleet.register_file.kinds import MACHINES, FileKind
from fleet.register_file.mapping import PROBLEM_COLUMNS
from fleet.register_file.problems import Problem
from fleet.register_file.tables import Table


def register_text(rows: Iterable[Mapping[str, object]], kind: FileKind = MACHINES) -> str:
    """Return CSV text with every column of the kind; a missing value is left blank."""
    return csv_text(kind.header, _lines(rows, kind))


def register_workbook(rows: Iterable[Mapping[str, object]], kind: FileKind = MACHINES) -> bytes:
    """Return the same as an XLSX workbook of one sheet."""
    return xlsx_bytes(kind.title, kind.header, _lines(rows, kind))


def csv_text(header: Sequence[str], lines: Iterable[Sequence[object]]) -> str:
    """Return CSV text whose cells no spreadsheet runs as formulas."""
    out = io.StringIO(newline="")
    CsvRows(out).write_all([header, *lines])
    return out.getvalue()


def xlsx_bytes(title: str, header: Sequence[str], lines: Iterable[Sequence[object]]) -> bytes:
    """Return an XLSX workbook of one sheet whose cells are texts and dates; none is a formula."""
    book = new_workbook()
    sheet = book.create_sheet(title[:31].replace("/", " "))
    sheet.freeze_panes = "A2"
    for line in [header, *lines]:
        sheet.append(xlsx_row(sheet, line, numbers_as_text=True))
    return workbook_bytes(book)


def problem_lines(table: Table | None, problems: Sequence[Problem]) -> tuple[tuple[str, ...], list[list[object]]]:
    """Return the header and the rows of a file with its problems beside the rows; problems without a row are below."""
    by_row = {}
    for problem in problems:
        by_row.setdefault(problem.row, []).append(_in_words(problem))
    labels, rows = (table.labels, table.rows) if table else ((), ())
    lines = [[*cells, number, "\n".join(by_row.pop(number, []))] for number, cells in rows]
    blank = [""] * len(labels)
    lines += [[*blank, number or "", "\n".join(told)] for number, told in sorted(by_row.items())]
    return (*labels, *PROBLEM_COLUMNS), lines


def _in_words(problem):
    shown = f" “{problem.value}”" if problem.value else ""
    return f"{problem.column}{shown} {problem.message} Accepted: {problem.accepted}".strip()


def _lines(rows, kind):
    for row in rows:
        yield [row.get(name, "") for name in kind.header]
