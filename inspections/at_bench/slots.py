"""Places for readings: what a test declares, seen from a form, a request or a stored reading."""

from dataclasses import dataclass

from fleet.place_format import choice_of, current, with_decimal_sign
from inspections.at_bench.field_names import place_names, read_place_name
from inspections.at_bench.step_content import test_of
from inspections.bench import Dimension, Zero
from inspections.errors import ReadingRefused

YES_NO = ("yes", "no")
MAX_ROWS = 60


@dataclass(frozen=True, slots=True)
class Slot:
    """One place for one reading. `options` is filled for choices and yes/no items, `units` for the rest."""

    field: str
    row: int
    column: str
    label: str
    dimension: str
    units: tuple[str, ...] = ()
    zero: str = ""
    options: tuple[str, ...] = ()
    help: str = ""
    required: bool = True
    needs_instrument: bool = False
    wanted: tuple = ()

    @property
    def wanted_words(self):
        """The options with which it is wanted, as the page holds them."""
        return wanted_words(self.wanted)

    @property
    def key(self):
        return (self.field, self.row, self.column)

    @property
    def names(self):
        """The names of its fields in a form."""
        return place_names(*self.key)

    @property
    def name(self):
        """The name of its value in a form."""
        return self.names.value

    @property
    def unit_choice(self):
        """The code of the UnitChoice that its units follow, empty for an answer."""
        return choice_of(self.units[0]) if self.units else ""

    @property
    def unit_of_options(self):
        """What is kept as the unit of a yes/no item; a choice has none."""
        return self.units[0] if self.units else ""

    def zero_for(self, unit, zero):
        """The zero to keep with a reading: as given, else as declared; none where it has no meaning."""
        return (zero or self.zero) if self.dimension == Dimension.PRESSURE else ""


def wanted_words(wanted):
    """“method=decay,capacity=stated;method=timed”: alternatives of options that go together; empty for always."""
    return ";".join(",".join(f"{choice}={option}" for choice, option in together) for together in wanted)


def find_slot(step, field, row=0, column=""):
    """Return the place that the step's test declares under these keys. Raise ReadingRefused if there is none."""
    test = test_of(step)
    if not 0 <= row < MAX_ROWS:
        raise ReadingRefused(
            f"Row {row + 1} is one too many: a table has at most {MAX_ROWS} rows.", (field, row, column)
        )
    slot = _in_tables(test, field, row, column) if column else _in_values(test, field) if row == 0 else None
    if slot is None or field in fixed_choices(step):
        raise ReadingRefused(
            f"{step.title} has no place for a reading called “{field} {column}”.", (field, row, column)
        )
    return slot


def fixed_choices(step):
    """The choices that are not offered at the bench: those of the procedure, and those with one option on the machine.

    An item is what is so in good order.
    """
    fixed = {spec.key: spec.default for spec in test_of(step).choices if len(spec.options) == 1}
    if "item" in step.content:
        fixed["wanted"] = "yes"
    return fixed | step.content.get("choices", {})


def find_named_slot(step, name):
    """Return the place that a form calls `name` (see Slot.name). Raise ReadingRefused if there is none."""
    try:
        keys = read_place_name(name)
    except ValueError:
        raise ReadingRefused(f"{step.title} has no place for a reading called “{name}”.", (name, 0, "")) from None
    return find_slot(step, *keys)


def reading_slot(spec, *, field, row=0, column=""):
    """The place of one declared reading."""
    is_observation = spec.dimension == Dimension.OBSERVATION
    return Slot(
        field=field,
        row=row,
        column=column,
        label=spec.label,
        dimension=str(spec.dimension),
        units=("yes/no",) if is_observation else tuple(spec.units),
        zero=str(spec.zero or (Zero.GAUGE if spec.dimension == Dimension.PRESSURE else "")),
        options=YES_NO if is_observation else (),
        help=spec.help,
        required=not spec.is_optional,
        needs_instrument=spec.needs_instrument,
        wanted=spec.wanted,
    )


def choice_slot(spec):
    """The place of one declared choice."""
    return Slot(
        field=spec.key,
        row=0,
        column="",
        label=spec.label,
        dimension="choice",
        options=tuple(v for v, _ in spec.options),
        wanted=spec.wanted,
    )


def _in_values(test, field):
    for spec in test.readings:
        if spec.key == field:
            return reading_slot(spec, field=field)
    for spec in test.choices:
        if spec.key == field:
            return choice_slot(spec)
    return None


def _in_tables(test, field, row, column):
    for table in test.tables:
        for spec in table.columns:
            if table.key == field and spec.key == column:
                return reading_slot(spec, field=field, row=row, column=column)
    return None


def reading_shown(reading):
    """Return the digits of a reading, or the option that it names, as the field of a form holds them."""
    is_option = reading.unit in ("", "yes/no")
    return reading.as_read if is_option else with_decimal_sign("; ".join(reading.all_read), current().decimal)
