"""The content of a workbook, counted while its parts are unpacked, before anything is built from it."""

import re
import zipfile
from dataclasses import dataclass, field
from functools import lru_cache
from xml.parsers import expat

from fleet.register_file.problems import Unreadable
from fleet.register_file.settings import MAX_COLUMNS, MAX_ROWS

MAX_ELEMENTS = 3_000_000  # 10,000 rows of 100 columns
MAX_OTHER_ELEMENTS = 100_000  # for a part without cells or their texts, such as the styles
MAX_DEPTH = 60
MAX_MERGES = 5_000
MAX_MERGED_ROWS = 500_000
LAST_ROW = 100_000
CHUNK = 64 * 1024
ACCEPTED = "XLSX as saved by a spreadsheet program, without a password, or CSV."
MERGED = re.compile(r"([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})")
PLACE = re.compile(r"([A-Z]{1,3})(\d{1,7})")
WITH_CELLS = ("worksheet", "sst")


@dataclass
class SheetContent:
    """One sheet: its last row with content, whether it has formulas, and (column, first row, last row) of cells merged
    downwards, the column counted from 1."""

    last_row: int = 0
    has_formulas: bool = False
    merges: list[tuple[int, int, int]] = field(default_factory=list)


def count_content(archive: zipfile.ZipFile) -> dict[str, SheetContent]:
    """Return the content of each part of a workbook by name. Raises Unreadable for more than a register can have."""
    total = _Total()
    contents = {}
    for part in archive.infolist():
        with archive.open(part) as opened:
            contents[part.filename] = _Counter(total).read(opened)
    return contents


@lru_cache(maxsize=1024)
def column_number(letters: str) -> int:
    """Return the number of a column from its letters; A is 1."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


@dataclass
class _Total:
    """The counts of all parts."""

    elements: int = 0
    merges: int = 0
    merged_rows: int = 0


class _Counter:
    """Reads one part as XML without storing it, up to the first error: a picture is no XML."""

    def __init__(self, total):
        self.total, self.content = total, SheetContent()
        self.depth = self.elements = self.row = self.column = 0
        self.most = MAX_OTHER_ELEMENTS
        self.too_wide = None
        self.parser = expat.ParserCreate()
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.StartDoctypeDeclHandler = _refuse_document_type

    def read(self, opened):
        try:
            while chunk := opened.read(CHUNK):
                self.parser.Parse(chunk)
        except expat.ExpatError:
            pass  # no XML, or damaged: the reader reports it if it needs the part
        self._refuse_width()
        return self.content

    def _start(self, name, attributes):
        own = name.rpartition(":")[2]
        if not self.depth and own in WITH_CELLS:
            self.most = MAX_ELEMENTS
        self.depth += 1
        self.elements += 1
        self.total.elements += 1
        if self.elements > self.most or self.total.elements > MAX_ELEMENTS or self.depth > MAX_DEPTH:
            self._refuse_size()
        if act := ACTS.get(own):
            act(self, attributes)

    def _end(self, name):
        self.depth -= 1

    def _refuse_size(self):
        if self.depth > MAX_DEPTH:
            message = f"The workbook nests its elements more than {MAX_DEPTH} deep, which no spreadsheet does."
            raise Unreadable(message, ACCEPTED)
        message = f"The workbook is made of more than {self.most:,} elements, far more than a register."
        raise Unreadable(message, f"at most {self.most:,} elements. Copy the table alone into a new workbook.")

    def _start_row(self, attributes):
        self._refuse_width()
        self.row, self.column = _number(attributes.get("r"), self.row + 1), 0

    def _start_cell(self, attributes):
        place = PLACE.fullmatch(attributes.get("r", ""))
        self.column = column_number(place[1]) if place else self.column + 1
        if place:
            self.row = int(place[2])

    def _start_value(self, attributes):
        """Count a cell with content; blank cells that only have a colour do not count."""
        if self.column > MAX_COLUMNS:
            self.too_wide = (self.row, self.column)
        if self.row > LAST_ROW:
            message = f"Row {self.row:,} has cells far below the end of a register."
            raise Unreadable(message, f"at most {MAX_ROWS:,} rows a file.", row=self.row)
        self.content.last_row = max(self.content.last_row, self.row)

    def _refuse_width(self):
        if self.too_wide:
            row, column = self.too_wide
            raise Unreadable(f"Row {row} has {column:,} cells.", f"at most {MAX_COLUMNS} columns.", row=row)

    def _start_formula(self, attributes):
        self._start_value(attributes)
        self.content.has_formulas = True

    def _start_merge(self, attributes):
        self.total.merges += 1
        if self.total.merges > MAX_MERGES:
            raise Unreadable(
                f"The workbook has more than {MAX_MERGES:,} merged ranges of cells.",
                f"at most {MAX_MERGES:,}. Undo the merging in the spreadsheet, or save the table as CSV.",
            )
        merged = MERGED.fullmatch(attributes.get("ref", ""))
        if merged and merged[1] == merged[3]:
            self._keep_merge(column_number(merged[1]), int(merged[2]), int(merged[4]))

    def _keep_merge(self, column, first, last):
        if not 0 < last - first <= MAX_ROWS:
            return
        self.total.merged_rows += last - first
        if self.total.merged_rows > MAX_MERGED_ROWS:
            message = f"The merged cells of the workbook cover more than {MAX_MERGED_ROWS:,} rows together."
            raise Unreadable(message, "fewer. Undo the merging in the spreadsheet, or save the table as CSV.")
        self.content.merges.append((column, first, last))


ACTS = {
    "row": _Counter._start_row,
    "c": _Counter._start_cell,
    "v": _Counter._start_value,
    "is": _Counter._start_value,
    "f": _Counter._start_formula,
    "mergeCell": _Counter._start_merge,
}


def _number(text, otherwise):
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 9 else otherwise


def _refuse_document_type(*_):
    raise Unreadable("The workbook declares a document type, which no spreadsheet writes.", ACCEPTED)
