"""A file as a table: its header row, the names of its columns, the rows below."""

from dataclasses import dataclass

from fleet.characters import printable
from fleet.register_file.decoding import decode, sample_of
from fleet.register_file.delimited import delimited_rows
from fleet.register_file.kinds import FileKind
from fleet.register_file.problems import Question, Unreadable
from fleet.register_file.settings import DELIMITERS, ENCODINGS, MAX_BYTES, MAX_ROWS, Settings
from fleet.register_file.synonyms import plain_name
from fleet.register_file.workbook import is_workbook, workbook_rows

HEAD_ROWS = 30


@dataclass(frozen=True)
class Source:
    """How the file was split: `form` CSV or XLSX, then what applies of the rest (keys as in Settings)."""

    form: str
    encoding: str = ""
    delimiter: str = ""
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    sample: tuple[str, ...] = ()

    def __str__(self):
        if self.form == "XLSX":
            return f"XLSX, sheet “{self.sheet}”"
        return f"CSV, {ENCODINGS[self.encoding]}, columns separated by {DELIMITERS[self.delimiter]}"


@dataclass(frozen=True)
class Table:
    """The header and the rows below it. `labels` are unique; `rows` are (row number, cells), cells as many as labels.

    wrong_widths  (row number, number of cells) of rows of a CSV file that do not fit the header
    """

    source: Source
    header_row: int
    labels: tuple[str, ...]
    rows: tuple[tuple[int, list], ...]
    wrong_widths: tuple[tuple[int, int], ...]
    notes: tuple[str, ...]
    questions: tuple[Question, ...]


def read_table(data: bytes, kind: FileKind, settings: Settings) -> Table:
    """Split a file by the settings, and detect what they leave open. Raises Unreadable."""
    if len(data) > MAX_BYTES:
        raise Unreadable(f"The file has {len(data):,} bytes.", f"at most {MAX_BYTES:,} bytes. Split it in two.")
    if not data:
        raise Unreadable("The file is empty.", "a header row and at least one row below it.")
    if is_workbook(data):
        book = workbook_rows(data, kind, settings.sheet)
        source = Source("XLSX", sheet=book.sheet, sheets=book.sheets)
        rows, notes, questions = book.rows, book.notes, book.questions
    else:
        text, encoding, questions = decode(data, settings.encoding)
        rows, delimiter = delimited_rows(text, kind, settings.delimiter)
        source = Source("CSV", encoding=encoding, delimiter=delimiter, sample=tuple(sample_of(text)))
        notes = ()
    if not rows:
        raise Unreadable("The file is empty.", "a header row and at least one row below it.")
    return _headed(source, rows, notes, questions, kind, settings)


def _headed(source, rows, notes, questions, kind, settings):
    position, is_sure = _header_position(rows, kind, settings.header_row)
    header_row, header = rows[position]
    body = rows[position + 1 :]
    notes, questions = list(notes), list(questions)
    if position:
        notes.append(f"Row {header_row} is the header; the rows above it are left out.")
    if not is_sure:
        text = f"No row contains known column names; row {header_row} was taken as the header. Is that right?"
        questions.append(Question("columns", text))
    body, repeated = _without_repeats(header, body)
    if repeated:
        notes.append(
            f"The header is repeated in row {_listed(repeated)}, which {'are' if repeated[1:] else 'is'} left out."
        )
    if len(body) > MAX_ROWS:
        raise Unreadable(f"The file has more than {MAX_ROWS:,} rows.", f"at most {MAX_ROWS:,} rows a file.")
    labels, kept = _labels(header, body)
    fitting, wrong = _fit(body, kept, len(header), is_strict=source.form == "CSV")
    return Table(source, header_row, labels, tuple(fitting), tuple(wrong), tuple(notes), tuple(questions))


def _header_position(rows, kind, said):
    if said is not None:
        for position, (number, _) in enumerate(rows):
            if number == said:
                return position, True
        raise Unreadable(
            f"Row {said} is blank or does not exist, so it cannot be the header.",
            "the number of the row with the column names.",
            row=said,
        )
    known = [_known_names(cells, kind) for _, cells in rows[:HEAD_ROWS]]
    best = max(range(len(known)), key=lambda position: (len(known[position]), -position))
    if kind.sign in known[best] or len(known[best]) > 1:
        return best, True
    widest = max(range(len(known)), key=lambda position: (sum(cell != "" for cell in rows[position][1]), -position))
    return widest, False


def _known_names(cells, kind):
    return {kind.names[plain_name(cell)] for cell in cells if isinstance(cell, str) and plain_name(cell) in kind.names}


def _without_repeats(header, body):
    names = [plain_name(str(cell)) for cell in header]
    kept, repeated = [], []
    for number, cells in body:
        is_repeat = [plain_name(str(cell)) for cell in cells[: len(names)]] == names
        (repeated if is_repeat else kept).append((number, cells))
    return kept, [number for number, _ in repeated]


def _labels(header, body):
    """Name each column that has a header or cells; a second one of the same name gets a number."""
    filled = set()
    for _, cells in body:
        filled.update(position for position, cell in enumerate(cells) if cell != "")
    labels, kept = [], []
    for position, cell in enumerate(header):
        words = " ".join(printable(str(cell)).split())[:120]
        name = words or (f"(column {position + 1})" if position in filled else "")
        if name:
            labels.append(_unique(name, labels))
            kept.append(position)
    return tuple(labels), kept


def _unique(name, taken):
    number, label = 1, name
    while label in taken:
        number += 1
        label = f"{name} ({number})"
    return label


def _fit(body, kept, width, *, is_strict):
    fitting, wrong = [], []
    for number, cells in body:
        beyond = any(cell != "" for cell in cells[width:])
        if beyond or (is_strict and len(cells) < width):
            wrong.append((number, len(cells)))
        cells = [*cells, *[""] * (width - len(cells))]
        fitting.append((number, [cells[position] for position in kept]))
    return fitting, wrong


def _listed(numbers, most=6):
    shown = ", ".join(str(number) for number in numbers[:most])
    return f"{shown} and {len(numbers) - most} more" if len(numbers) > most else shown
