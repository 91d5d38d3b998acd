"""The parts of a step's page: places with their readings, columns, rows and tables, contests and proposals."""

from dataclasses import dataclass, field

from inspections.at_bench.field_names import FieldNames, column_names
from inspections.at_bench.last_time import LastTime
from inspections.at_bench.slots import Slot, reading_shown, wanted_words
from inspections.models import Reading


@dataclass(frozen=True, slots=True)
class Settings:
    """Unit, zero and instrument that a place starts with."""

    unit: str = ""
    zero: str = ""
    instrument_id: int | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """The instrument that the fields with these names start with."""

    names: FieldNames
    instrument_id: int


@dataclass(slots=True)
class Place:
    """One place on the page. `typed` and `refusal` are set for a text that was not kept."""

    slot: Slot
    settings: Settings
    reading: Reading | None = None
    last: Reading | None = None
    instruments: list = field(default_factory=list)
    options: tuple = ()
    typed: str | None = None
    refusal: str = ""
    contests: list = field(default_factory=list)
    is_wanted: bool = True  # with what is chosen now, or it has a reading already
    corrections: list = field(default_factory=list)
    own_instrument: str = ""  # code of the reading's instrument, where that is not the one proposed above its column
    unheld: str = ""  # why no instrument was taken for the reading: none of those at hand holds its value

    @property
    def names(self):
        return self.slot.names

    @property
    def last_time(self):
        """What was read here last time, in the unit that this place starts with."""
        return LastTime(self.last, self.settings.unit) if self.last else None

    @property
    def is_from_record(self):
        """Whether it is a choice that begins with what the machine's record says."""
        return self.slot.dimension == "choice" and "record" in self.slot.options

    @property
    def chosen_words(self):
        """The label of the option that is chosen."""
        return dict(self.options).get(self.value, self.value)

    @property
    def id(self):
        return self.names.id

    @property
    def value(self):
        if self.typed is not None:
            return self.typed
        return reading_shown(self.reading) if self.reading else ""

    @property
    def state(self):
        if self.contests:
            return "contested"
        return "failed" if self.refusal else "kept" if self.reading else ""

    @property
    def is_late(self):
        """Whether what was typed gave way to what somebody else had entered; the page shows that one."""
        return bool(self.refusal) and self.typed is None

    @property
    def lacks_instrument(self):
        """Whether the current reading cannot be signed until its instrument is named."""
        return bool(self.reading) and self.slot.needs_instrument and self.reading.instrument_id is None


@dataclass(frozen=True, slots=True)
class Contest:
    """Two readings for one place: the current one, None if it was taken back since, and the one beside it."""

    slot: Slot
    standing: Reading | None
    contested: Reading

    @property
    def place(self):
        return f"{self.slot.label}, row {self.slot.row + 1}" if self.slot.column else self.slot.label


@dataclass(slots=True)
class Column:
    """One column of a table, with the unit, zero and instrument that its next readings take."""

    slot: Slot
    settings: Settings
    instruments: list

    @property
    def names(self):
        return column_names(self.slot.field, self.slot.column)

    @property
    def id(self):
        return f"{self.slot.field}-{self.slot.column}"


@dataclass(slots=True)
class Row:
    number: int
    places: list[Place]

    @property
    def label(self):
        return self.number + 1


@dataclass(slots=True)
class Table:
    key: str
    label: str
    help: str
    min_rows: int
    is_expected: bool
    columns: list[Column]
    rows: list[Row]
    blank: Row
    wanted: tuple = ()
    is_wanted: bool = True

    @property
    def wanted_words(self):
        return wanted_words(self.wanted)

    @property
    def has_readings(self):
        return any(place.reading for row in self.rows for place in row.places)

    @property
    def has_column_help(self):
        return any(column.slot.help for column in self.columns)
