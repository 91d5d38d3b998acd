"""A step as the bench page lays it out: a place for each declared reading, with its current and its last reading."""

from dataclasses import dataclass, field

from fleet.catalogue.dimensions import find_unit
from fleet.place_format import shown_unit
from inspections.at_bench.corrections import corrections_at
from inspections.at_bench.field_names import column_names, next_row_name
from inspections.at_bench.slots import (
    MAX_ROWS,
    Slot,
    choice_slot,
    find_slot,
    fixed_choices,
    reading_shown,
    reading_slot,
)
from inspections.bench import get_test
from inspections.models import InspectionStep, Reading

RECENT_READINGS = 60


@dataclass(frozen=True, slots=True)
class Settings:
    """Unit, zero and instrument that a place starts with."""

    unit: str = ""
    zero: str = ""
    instrument_id: int | None = None


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
    corrections: list = field(default_factory=list)

    @property
    def names(self):
        return self.slot.names

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

    @property
    def has_readings(self):
        return any(place.reading for row in self.rows for place in row.places)

    @property
    def has_column_help(self):
        return any(column.slot.help for column in self.columns)

    @property
    def next_row_name(self):
        """The name of the field that holds the number of the row that comes next."""
        return next_row_name(self.key)

    @property
    def next_row(self):
        """The number of the row that comes next."""
        return self.rows[-1].number + 1


class StepEntry:
    """Lays out a step from its own readings, last time's and the instruments at hand; six queries in all.

    Also holds the refused texts, when a page is shown again with what was typed.
    """

    def __init__(self, step, instruments, *, refused=None):
        self.step = step
        self.test = get_test(step.test_code)
        self.instruments = {choice.pk: choice for choice in instruments}
        self.refused = refused or {}
        self.readings = list(
            Reading.objects.filter(step=step)
            .with_everybody()
            .order_by("entered_at", "pk")
        )
        self.standing = {r.slot: r for r in self.readings if r.superseded_at is None}
        self.contested = [r for r in self.readings if r.is_contested]
        self.last_step = InspectionStep.objects.last_time(step).select_related("inspection__signed_by").first()
        self.last = {r.slot: r for r in last_readings(self.last_step)}
        self.latest_instruments = self._latest_instruments()

    def choices(self):
        """Places of the choices that the procedure leaves open."""
        fixed = fixed_choices(self.step)
        return [
            self._place(choice_slot(spec), options=spec.options, default=spec.default)
            for spec in self.test.choices
            if spec.key not in fixed
        ]

    def values(self):
        """Places of the single readings and observations, `needed` and `optional`."""
        places = [self._place(reading_slot(spec, field=spec.key)) for spec in self.test.readings]
        return _parted(places, lambda place: place.slot.required)

    def tables(self):
        """The tables, `needed` and `optional`; one that no result waits for is optional."""
        tables = [self._table(spec) for spec in self.test.tables]
        return _parted(tables, lambda table: table.min_rows > 0 or table.is_expected)

    @property
    def is_wide(self):
        """Whether a table of the test needs more room than one of two or three columns."""
        return any(len(spec.columns) > 3 for spec in self.test.tables)

    @property
    def fields(self):
        """Keys of everything at which something can be wrong."""
        fixed = fixed_choices(self.step)
        specs = (*self.test.choices, *self.test.readings, *self.test.tables)
        return [spec.key for spec in specs if spec.key not in fixed]

    def row(self, spec, number):
        slots = [reading_slot(column, field=spec.key, row=number, column=column.key) for column in spec.columns]
        return Row(number, [self._place(slot) for slot in slots])

    def row_after(self, slot, data):
        """The new row that a reading in the last row shown calls for, as (table, row); None otherwise.

        `data` holds which row the page would show next.
        """
        following = data.get(next_row_name(slot.field), "")
        if not slot.column or following != str(slot.row + 1) or slot.row + 1 >= MAX_ROWS:
            return None
        spec = next(spec for spec in self.test.tables if spec.key == slot.field)
        return Table(
            spec.key, spec.label, spec.help, spec.min_rows, spec.is_expected, [], [self.row(spec, slot.row + 1)]
        )

    def place(self, slot):
        """The place of one slot, as an answer to a reading shows it."""
        spec = next((spec for spec in self.test.choices if spec.key == slot.field), None)
        return self._place(slot, options=spec.options, default=spec.default) if spec else self._place(slot)

    def _table(self, spec):
        heads = [reading_slot(column, field=spec.key, column=column.key) for column in spec.columns]
        columns = [Column(slot, self.settings(slot), self._offered(slot)) for slot in heads]
        highest = max((slot[1] for slot in [*self.standing, *self.refused] if slot[0] == spec.key), default=-1)
        count = min(MAX_ROWS, max(spec.suggested_rows, highest + 2))
        rows = [self.row(spec, number) for number in range(count)]
        return Table(spec.key, spec.label, spec.help, spec.min_rows, spec.is_expected, columns, rows)

    def _place(self, slot, *, options=(), default=""):
        typed, refusal = self.refused.get(slot.key, (None, ""))
        reading = self.standing.get(slot.key)
        if typed is None and default and reading is None:
            typed = default
        options = options or tuple((value, value.capitalize()) for value in slot.options)
        settings = _settings_of(reading) if reading else self.settings(slot)
        contests = [contested for contested in self.contested if contested.slot == slot.key]
        last, offered = self.last.get(slot.key), self._offered(slot)
        was = corrections_at(slot.key, self.readings)
        return Place(slot, settings, reading, last, offered, options, typed, refusal, contests, was)

    @property
    def contests(self):
        """Each contested reading with its place, in words for whoever chooses."""
        return [
            Contest(find_slot(self.step, *contested.slot), self.standing.get(contested.slot), contested)
            for contested in self.contested
        ]

    def settings(self, slot):
        """What a place without a reading starts with: as last used in it here, else as last time, else as declared."""
        if slot.options:
            return Settings()
        here = self._latest(self.readings, slot)
        if here:
            return self._usable(_settings_of(here))
        before = self._latest(self.last.values(), slot)
        instrument_id = self._first_instrument(slot, before)
        if before and before.unit in slot.units:
            return self._usable(Settings(before.unit, before.zero, instrument_id))
        return self._usable(Settings(self._first_unit(slot), slot.zero, instrument_id))

    def _first_unit(self, slot):
        """The unit that the machine's site prefers, else the first that the test declares."""
        preferred = shown_unit(slot.units[0], self.step.inspection.machine.site.place_format)
        return preferred if preferred in slot.units else slot.units[0]

    def _first_instrument(self, slot, before):
        """The instrument to begin with: none for what is set or shown by the machine, unless last time named one.

        Else the one last read in this inspection for that dimension, else the only one there is.
        """
        if not slot.needs_instrument and not (before and before.instrument_id):
            return None
        usable = [choice.pk for choice in self._offered(slot) if not choice.refusal]
        latest = self.latest_instruments.get(slot.dimension)
        return latest if latest in usable or len(usable) != 1 else usable[0]

    def _latest(self, readings, slot):
        same = [r for r in readings if (r.field, r.column) == (slot.field, slot.column)]
        return same[-1] if same else None

    def _usable(self, settings):
        choice = self.instruments.get(settings.instrument_id)
        if choice is None or choice.refusal:
            return Settings(settings.unit, settings.zero, None)
        return settings

    def _offered(self, slot):
        return [choice for choice in self.instruments.values() if slot.dimension in choice.dimensions]

    def _latest_instruments(self):
        """By dimension, the instrument last read in this inspection."""
        recent = Reading.objects.filter(step__inspection=self.step.inspection_id, instrument__isnull=False)
        rows = recent.order_by("-pk").values_list("unit", "instrument_id")[:RECENT_READINGS]
        found = [(find_unit(unit), instrument_id) for unit, instrument_id in reversed(rows)]
        return {known[0].code: instrument_id for known, instrument_id in found if known}


def _parted(things, is_needed):
    needed = [thing for thing in things if is_needed(thing)]
    return {"needed": needed, "optional": [thing for thing in things if not is_needed(thing)]}


def last_readings(step):
    """The current readings of the step at the last inspection, none if there was none."""
    return Reading.objects.current().filter(step=step).order_by("row", "pk") if step else []


def _settings_of(reading):
    return Settings(reading.unit, reading.zero, reading.instrument_id)
