"""From a table to checked rows, problems and questions."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from fleet.register_file.cells import CellRefused, Manner, text_of, value_of
from fleet.register_file.columns import LAST_INSPECTED, ColumnKind
from fleet.register_file.dates import order_of
from fleet.register_file.kinds import EARLIER, MACHINES, FileKind
from fleet.register_file.mapping import MappedColumn, map_columns, mapping_questions
from fleet.register_file.meanings import Meanings
from fleet.register_file.numbers import has_decimal_comma
from fleet.register_file.problems import Problem, Question, Unreadable
from fleet.register_file.settings import Settings
from fleet.register_file.spellings import plain
from fleet.register_file.tables import Table, read_table
from fleet.work_progress import Tell, tell_nobody

TOTALS = (
    "total",
    "totals",
    "grand total",
    "sum",
    "sub total",
    "subtotal",
    "count",
    "end",
    "end of list",
    "end of report",
)
LAST_ROWS = 3
LONGEST_SHOWN = 160  # letters of a value that a problem shows


@dataclass(frozen=True, slots=True)
class ParsedRow:
    """One row: `number` as a spreadsheet counts; `values` holds readable cells that are not blank, by column."""

    number: int
    values: Mapping[str, object]


@dataclass(frozen=True)
class ParsedFile:
    """The content of a file: how it was read, its rows, its problems and its open questions.

    spellings  (as written, as read, how often) of the feature columns
    """

    kind: FileKind
    table: Table | None = None
    mapped: tuple[MappedColumn, ...] = ()
    rows: tuple[ParsedRow, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    spellings: tuple[tuple[str, str, int], ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(one.column for one in self.mapped if one.column)

    @property
    def open_questions(self) -> tuple[Question, ...]:
        return tuple(question for question in self.questions if question.is_open)


def parse_register(
    data: bytes,
    kind: FileKind = MACHINES,
    settings: Settings = Settings(),  # noqa: B008
    *,
    recall: Callable[[Sequence[str]], Mapping[str, str]] = lambda labels: {},
    meanings: Meanings = Meanings(),  # noqa: B008
    tell: Tell = tell_nobody,
) -> ParsedFile:
    """Parse a register file, CSV or XLSX, as far as it is unambiguous.

    data      at most MAX_BYTES with at most MAX_ROWS rows below the header
    recall    function of the labels of a file that returns what was chosen for them last time
    meanings  what values of such files mean
    tell      function of done, total and text, called now and then; what it raises is raised
    Never raises for the content of the file: problems list each fault by row, column, value and what is accepted.
    With an open question there are no rows.
    """
    try:
        tell(0, 0, "Reading the file")
        table = read_table(data, kind, settings)
    except Unreadable as unreadable:
        return ParsedFile(kind, problems=(unreadable.problem,))
    mapped = map_columns(kind, table.labels, settings.columns, recall(table.labels))
    questions = [*table.questions, *mapping_questions(kind, mapped)]
    if any(one.how in ("said", "remembered") and one.column for one in mapped):
        questions = [question for question in questions if "No row contains known column names" not in question.text]
    if settings.counts_as is None and has_inspections(kind, mapped):
        text = (
            "Choose the procedure towards whose due date these inspections count. Until then they do not "
            "change a due date."
        )
        questions.append(Question("due", text, is_open=False))
    manners, notes, date_questions = _manners(kind, table, mapped, settings)
    questions += date_questions
    if any(question.is_open for question in questions):
        return ParsedFile(kind, table, mapped, notes=(*table.notes, *notes), questions=tuple(questions))
    rows = _Rows(kind, table, mapped, manners, tell, meanings, frozenset(settings.left_out), settings.only)
    return rows.parsed([*table.notes, *notes], questions)


def has_inspections(kind: FileKind, mapped: Sequence[MappedColumn]) -> bool:
    """Return whether a file says when machines were inspected elsewhere."""
    return kind is EARLIER or any(one.column == LAST_INSPECTED for one in mapped)


def _manners(kind, table, mapped, settings):
    """Return how to parse each date and number column, found from all its cells together."""
    manners, notes, questions = {}, [], []
    for position, one in enumerate(mapped):
        column = kind.columns.get(one.column)
        if column is None or column.kind not in (ColumnKind.DATE, ColumnKind.NUMBER, ColumnKind.QUANTITY):
            continue
        texts = [(number, cells[position]) for number, cells in table.rows if isinstance(cells[position], str)]
        if column.kind is not ColumnKind.DATE:
            comma_used = any(has_decimal_comma(text.split(" ")[0]) for _, text in texts)
            manners[one.column] = Manner(comma_used=comma_used)
            continue
        order = order_of(texts, settings.date_order)
        manners[one.column] = Manner(order.order)
        if not order.order:
            text = f"The dates of “{one.label}” can be read day first or month first ({order.why}). Which is right?"
            questions.append(Question("dates", text))
        elif order.why:
            notes.append(f"The dates of “{one.label}” are read {order.why}.")
    return manners, notes, questions


@dataclass
class _Rows:
    """The rows of one table, parsed one after the other."""

    kind: FileKind
    table: Table
    mapped: tuple
    manners: dict
    tell: Tell
    meanings: Meanings
    left_out: frozenset[int]
    only: Sequence[int] | None
    rows: list = field(default_factory=list)
    problems: list = field(default_factory=list)
    spellings: Counter = field(default_factory=Counter)
    numbers_as_dates: int = 0
    seen: dict = field(default_factory=dict)

    def parsed(self, notes, questions):
        wrong, total = dict(self.table.wrong_widths), len(self.table.rows)
        only = None if self.only is None else frozenset(self.only)
        last = {number for number, _ in self.table.rows[-LAST_ROWS:]}
        for done, (number, cells) in enumerate(self.table.rows):
            if done % 200 == 0:
                self.tell(done, total, "Reading rows")
            if number in self.left_out or (only is not None and number not in only):
                continue
            if number in last and self._is_total(cells):
                notes.append(f"Row {number} is a total, not a {self.kind.one}; it is left out.")
            elif number in wrong:
                self.problems.append(self._wrong_width(number, wrong[number]))
            elif any(cell != "" for cell in cells):
                self._read(number, cells)
        if not self.rows and not self.problems:
            self._wrong(0, "", "", f"The file lists no {self.kind.one}.", "at least one row below the header.")
        if self.numbers_as_dates:
            told = "Dates stored as day numbers are read with the spreadsheet calendar that starts in 1900"
            notes.append(f"{told} ({self.numbers_as_dates} cells).")
        spellings = tuple((written, read, count) for (written, read), count in sorted(self.spellings.items()))
        return ParsedFile(
            self.kind,
            self.table,
            self.mapped,
            tuple(self.rows),
            tuple(self.problems),
            tuple(notes),
            tuple(questions),
            spellings,
        )

    def _read(self, number, cells):
        values, is_wrong, site = {}, set(), self._site_of(cells)
        for one, cell in zip(self.mapped, cells, strict=True):
            if not one.column or cell == "":
                continue
            column = self.kind.columns[one.column]
            cell = self.meanings.read(column.name, cell, site if column.name == "area" else "")
            if cell == "":
                continue
            try:
                value = value_of(column, cell, self.manners.get(one.column, Manner()))
            except CellRefused as refused:
                self._wrong(number, one.column, text_of(cell), refused.message, refused.accepted, "cell")
                is_wrong.add(one.column)
                continue
            self._count(column, cell, value)
            self._take(number, column, cell, value, values)
        self._identify(number, values, is_wrong)

    def _site_of(self, cells):
        """Return the site of a row as the meanings of its areas name it."""
        if not self.meanings.entries:
            return ""
        named = (cell for one, cell in zip(self.mapped, cells, strict=True) if one.column == "site")
        return plain(text_of(self.meanings.read("site", next(named, ""))))

    def _count(self, column, cell, value):
        if column.kind is ColumnKind.STATE:
            self.spellings[plain(text_of(cell)), value] += 1
        if column.kind is ColumnKind.DATE and isinstance(cell, (int, float)):
            self.numbers_as_dates += 1

    def _take(self, number, column, cell, value, values):
        """Store a value; a size implies states of features, which another column of the row may contradict."""
        said = value if column.kind is ColumnKind.SIZE else {column.name: value}
        for name, new in said.items():
            if values.get(name, new) != new:
                message = f"contradicts another column of this row: {name} would be {new} and {values[name]}."
                self._wrong(number, column.name, text_of(cell), message, "matching values, or one of them blank.")
            values[name] = new

    def _identify(self, number, values, is_wrong):
        sign = self.kind.sign
        if sign not in values:
            if sign not in is_wrong:
                self._wrong(number, sign, "", "is missing.", f"the {sign.replace('_', ' ')} of the {self.kind.one}.")
            return
        key = tuple(plain(text_of(values.get(name, ""))) for name in self.kind.key)
        first = self.seen.setdefault(key, number)
        if first != number:
            told = ", ".join(text_of(values[name]) for name in self.kind.key if name in values)
            each = (
                "each asset number only once in a file."
                if self.kind.key == ("asset_number",)
                else "each of them only once in a file."
            )
            self._wrong(number, sign, told, f"is already in row {first}.", each, "twice")
        self.rows.append(ParsedRow(number, values))

    def _is_total(self, cells):
        filled = [plain(text_of(cell)).rstrip(":") for cell in cells if cell != ""]
        first = filled[0].split(":")[0].strip() if filled else ""
        return first in TOTALS and len(filled) <= max(2, len(cells) // 2)

    def _wrong_width(self, number, width):
        message = f"The row has {width} cells, the header has {len(self.table.labels)}."
        return Problem(
            number, "", "", message, "as many cells as the header; put a text with a comma in quotation marks."
        )

    def _wrong(self, row, column, value, message, accepted, about=""):
        self.problems.append(Problem(row, column, value[:LONGEST_SHOWN], message, accepted, about))
