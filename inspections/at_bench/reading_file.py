"""A file of an instrument for one step: its rows, where its columns go, and the values with their places."""

from dataclasses import dataclass, replace

from fleet.confined import AT_ONCE, Busy, Exceeded, run_confined
from fleet.errors import FileRefused
from fleet.place_format import POINT, current, with_decimal_sign
from fleet.register_file import Problem, digest_of
from fleet.register_file.plain_rows import PlainRows
from fleet.register_file.synonyms import plain_name
from inspections.at_bench.field_names import column_names
from inspections.at_bench.reading_entry import Entry
from inspections.at_bench.slots import MAX_ROWS, Slot, reading_shown, reading_slot
from inspections.at_bench.step_content import test_of
from inspections.at_bench.typed_unit import read_typed
from inspections.bench import Dimension
from inspections.errors import ReadingRefused
from inspections.models import Reading, ReadingFileMapping

SPLITTER = "fleet.register_file.confined_reading:rows_apart"
LEFT_OUT = ""


@dataclass(frozen=True, slots=True)
class Target:
    """Where a column of a file can go: a single reading, or a column of a table. `name` as the form names it."""

    name: str
    label: str
    slot: Slot
    is_column: bool

    def slot_in(self, row):
        """The place in a row of the table, the only one of a single reading."""
        return replace(self.slot, row=row) if self.is_column else self.slot


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """Where one column goes, and the unit of its cells that name none; an empty unit is that of the bench."""

    to: str = LEFT_OUT
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Mapping:
    """The columns of a file by label, and its decimal sign."""

    columns: dict[str, ColumnUse]
    decimal: str = POINT

    def as_json(self):
        return {label: {"to": use.to, "unit": use.unit} for label, use in self.columns.items()}


@dataclass(slots=True)
class PlacedValue:
    """One value of a file with its place. `entry` is None where it was refused; `reading` is what is there already."""

    line: int
    slot: Slot
    text: str
    reading: Reading | None = None
    entry: Entry | None = None
    refusal: str = ""

    @property
    def is_same(self):
        return self.entry is not None and self.entry.repeats(self.reading)

    @property
    def is_in_the_way(self):
        """Whether another reading is there, about which is asked."""
        return self.reading is not None and not self.is_same

    @property
    def was_empty(self):
        """Whether the page showed nothing in its place."""
        return self.entry.seen is None

    @property
    def is_overtaken(self):
        """Whether another reading is there now than the page showed."""
        return self.reading is not None and self.reading.pk != self.entry.seen

    @property
    def words(self):
        """The value as it will be stored, written as at the site."""
        digits = with_decimal_sign("; ".join([self.entry.as_read, *self.entry.read_again.split()]), current().decimal)
        zero = " absolute" if self.entry.zero == "absolute" else ""
        return f"{digits} {self.entry.unit}{zero}"

    @property
    def there(self):
        """What is in its place now, in the same form."""
        return f"{reading_shown(self.reading)} {self.reading.unit}"

    @property
    def place(self):
        return f"{self.slot.label}, row {self.slot.row + 1}" if self.slot.column else self.slot.label


def read_reading_file(data):
    """Return the PlainRows of a file. Raise FileRefused."""
    try:
        read = run_confined(SPLITTER, bytes(data), limits=AT_ONCE)
    except Busy:
        raise FileRefused("Other files are being read at the moment. Send the file again shortly.") from None
    except Exceeded as exceeded:
        raise FileRefused(f"{exceeded} Accepted: a smaller table, CSV or XLSX.") from None
    if isinstance(read, Problem):
        raise FileRefused(f"{read.message} Accepted: {read.accepted}")
    return read


def targets_of(step):
    """Return the Targets of a step's test by name, in the order declared; none for questions and choices."""
    test = test_of(step)
    found = [
        Target(spec.key, spec.label, reading_slot(spec, field=spec.key), False)
        for spec in test.readings
        if spec.dimension != Dimension.OBSERVATION
    ]
    for table in test.tables:
        for spec in table.columns:
            name, slot = column_names(table.key, spec.key).value, reading_slot(spec, field=table.key, column=spec.key)
            found.append(Target(name, f"{table.label}: {spec.label}", slot, True))
    return {target.name: target for target in found}


def remembered_mapping(instrument, step, rows):
    """Return the Mapping that was last chosen for files with these headers, None for none that fits the test."""
    found = ReadingFileMapping.objects.filter(
        instrument=instrument, test_code=step.test_code, digest=digest_of(rows.labels)
    ).first()
    if found is None or set(found.columns) != set(rows.labels):
        return None
    targets = targets_of(step)
    columns = {label: ColumnUse(use["to"], use["unit"]) for label, use in found.columns.items()}
    fits = all(_fits(use, targets) for use in columns.values())
    return Mapping(columns, found.decimal) if fits else None


def _fits(use, targets):
    target = targets.get(use.to)
    return use.to == LEFT_OUT or (target is not None and use.unit in ("", *target.slot.units))


def guessed_use(label, targets):
    """Return the ColumnUse that the header of a column suggests: the first place of its name, the unit behind it."""
    words, _, behind = label.partition("(") if "(" in label else label.partition("[")
    named = [
        one for one in targets.values() if plain_name(words) in (plain_name(one.slot.label), plain_name(one.label))
    ]
    if not named:
        return ColumnUse()
    try:
        unit = read_typed(named[0].slot, f"1 {behind.rstrip(')] ')}").unit if behind else ""
    except ReadingRefused:
        unit = ""
    return ColumnUse(named[0].name, unit)


def placed_texts(rows: PlainRows, mapping, targets):
    """Return a PlacedValue for each cell of the mapped columns that is not blank, in the order of the file.

    Rows of a table are counted from the first; a line that is blank in every column of a table takes none of its rows.
    """
    used = {
        place: targets[mapping.columns[label].to]
        for place, label in enumerate(rows.labels)
        if mapping.columns[label].to != LEFT_OUT
    }
    next_row, single, found = {}, {}, []
    for line, cells in rows.rows:
        filled = {place: target for place, target in used.items() if cells[place]}
        numbers = {}
        for target in filled.values():
            if target.is_column and target.slot.field not in numbers:
                numbers[target.slot.field] = next_row.get(target.slot.field, 0)
                next_row[target.slot.field] = numbers[target.slot.field] + 1
        for place, target in filled.items():
            value = PlacedValue(line, target.slot_in(numbers.get(target.slot.field, 0)), cells[place])
            value.refusal = _no_room(value, target, single)
            found.append(value)
    return found


def _no_room(value, target, single):
    """Why a value has no place of its own: a row too many, or a second value for one reading."""
    if target.is_column:
        return "" if value.slot.row < MAX_ROWS else f"Accepted: {MAX_ROWS} rows of the table at most."
    before = single.setdefault(target.name, value.line)
    if before == value.line:
        return ""
    return f"This place takes one value, and line {before} has one. Accepted: a file with one value in this column."
