"""What the bench page sends: one reading at a time, or all of a step where scripts do not run."""

from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.dimensions import find_unit
from fleet.catalogue.plausibility import use_bounds
from fleet.forms.fields import NumberField
from fleet.place_format import (
    NumberRefused,
    converted,
    current,
    read_number,
    rounded_quantity,
    shown_unit,
)
from inspections.at_bench.slots import (
    MAX_ROWS,
    choice_slot,
    find_named_slot,
    fixed_choices,
    reading_shown,
    reading_slot,
)
from inspections.errors import ReadingRefused

LONGEST = 40
AMBIENT_KPA, ROOM_C = use_bounds("ambient-pressure"), use_bounds("ambient-temperature")


class ConditionField(NumberField):
    """A number that is asked for in the unit of the place and cleaned into `symbol`, within `bounds` of that unit."""

    def __init__(self, symbol, bounds, **options):
        self.symbol, self.bounds = symbol, bounds
        super().__init__(**options)

    @property
    def shown_in(self):
        return shown_unit(self.symbol, current())

    @property
    def accepted(self):
        low, high = (rounded_quantity(end, self.symbol, 0, current()) for end in self.bounds)
        return f"{low.rpartition(' ')[0]} to {high}"

    def to_python(self, value):
        number = super().to_python(value)
        if not isinstance(value, str) or number is None or self.shown_in == self.symbol:
            return number
        return float(f"{self._converted(number, self.shown_in, self.symbol):.9g}")

    def prepare_value(self, value):
        if isinstance(value, float | int):
            value = float(f"{self._converted(value, self.symbol, self.shown_in):.9g}")
        return super().prepare_value(value)

    def validate(self, value):
        super().validate(value)
        if value is not None and not self.bounds[0] <= value <= self.bounds[1]:
            raise ValidationError(f"This is not plausible here. Accepted: {self.accepted}. Check the unit.")

    @staticmethod
    def _converted(number, given, wanted):
        return number if given == wanted else converted(number, find_unit(given)[1], find_unit(wanted)[1])


class OpenForm(forms.Form):
    """The conditions at the bench. A pressure left empty is that of the standard atmosphere at the site's altitude."""

    ambient_kpa_abs = ConditionField("kPa", AMBIENT_KPA, label="Ambient pressure", required=False)
    temperature_c = ConditionField("°C", ROOM_C, label="Room temperature", initial=20)

    def __init__(self, *args, site, **kwargs):
        super().__init__(*args, **kwargs)
        ambient, room = self.fields["ambient_kpa_abs"], self.fields["temperature_c"]
        standard = rounded_quantity(site.ambient_pa_abs / 1000, "kPa", 1, current())
        ambient.label = f"Ambient pressure ({ambient.shown_in} absolute)"
        room.label = f"Room temperature ({room.shown_in})"
        ambient.help_text = (
            f"As measured, {ambient.accepted}. If left empty: {standard} absolute, the standard atmosphere at "
            f"{site.altitude_m} m ({site.name})."
        )
        room.help_text = f"As measured, {room.accepted}."


class NotTestedForm(forms.Form):
    reason = forms.CharField(
        label="Why is this step not tested?",
        max_length=300,
        help_text="It goes on the record, such as “No nitrous oxide supply at this bench today”.",
    )


@dataclass(frozen=True, slots=True)
class Entry:
    """One reading as it was sent. An empty text takes the reading back."""

    slot: object
    as_read: str
    unit: str
    zero: str
    instrument: object = None

    def repeats(self, reading):
        """Whether it repeats the current reading; an empty text repeats an empty place."""
        if reading is None:
            return not self.as_read
        mine = (self.as_read, self.unit, self.zero, self.instrument)
        return mine == (reading.as_read, reading.unit, reading.zero, reading.instrument)

    def arguments(self):
        """Keyword arguments of `enter_reading`, but for who and when."""
        return {
            "row": self.slot.row,
            "column": self.slot.column,
            "as_read": self.as_read,
            "unit": self.unit,
            "zero": self.zero,
            "instrument": self.instrument,
        }


def read_entry(step, data, name, instruments, *, decimal=None):
    """Return the Entry that `data` holds for the place `name`. Raise ReadingRefused.

    decimal  sign of whoever wrote `data`: "." for a program and for what is stored, that of the place for a form
    A cell without a unit, zero or instrument of its own takes those of its column.
    """
    slot = find_named_slot(step, name)
    as_read = data.get(name, "").strip()
    if len(as_read) > LONGEST:
        raise ReadingRefused(f"{slot.label}: {len(as_read)} characters are too many for a reading.", slot.key)
    if slot.options:
        return Entry(slot, as_read, slot.unit_of_options, "")
    as_read = _digits(slot, as_read, decimal or current().decimal)
    unit, zero, instrument = (_setting(data, slot, key) for key in ("unit", "zero", "instrument"))
    return Entry(
        slot,
        as_read,
        unit or slot.units[0],
        _checked_zero(slot, unit, zero),
        _checked_instrument(slot, instrument, instruments) if as_read else None,
    )


def _digits(slot, text, decimal):
    """Return the digits with a point, as readings are stored. Raise ReadingRefused."""
    try:
        return read_number(text, decimal) if text else text
    except NumberRefused as error:
        raise ReadingRefused(f"{slot.label}: {error}", slot.key) from None


def is_untouched(data, name, laid_out):
    """Whether the form sends the place `name` as it was laid out: with the reading `laid_out`, or empty if None."""
    text = data[name].strip()
    if laid_out is None:
        return not text
    was = {"unit": laid_out.unit, "zero": laid_out.zero, "instrument": str(laid_out.instrument_id or "")}
    same_settings = all(data.get(f"{name}:{key}", value) == value for key, value in was.items())
    return text == reading_shown(laid_out) and same_settings


def sent_names(step, test, data):
    """Names of the places in `data`, in the order declared."""
    fixed = fixed_choices(step)
    slots = [choice_slot(spec) for spec in test.choices if spec.key not in fixed]
    slots += [reading_slot(spec, field=spec.key) for spec in test.readings]
    for table in test.tables:
        for row in range(MAX_ROWS):
            slots += [reading_slot(c, field=table.key, row=row, column=c.key) for c in table.columns]
    return [slot.name for slot in slots if slot.name in data]


def _setting(data, slot, key):
    own = data.get(f"{slot.name}:{key}")
    return own if own is not None else data.get(f"{slot.field}.*.{slot.column}:{key}", "")


def _checked_zero(slot, unit, zero):
    if zero not in ("", "gauge", "absolute"):
        raise ReadingRefused(f"{slot.label}: a pressure is gauge or absolute; got “{zero}”.", slot.key)
    return slot.zero_for(unit, zero)


def _checked_instrument(slot, sent, instruments):
    """The instrument. Raise ReadingRefused for one that is elsewhere, out of calibration, or reads something else."""
    if not sent:
        return None
    choice = next((choice for choice in instruments if str(choice.pk) == sent), None)
    if choice is None:
        raise ReadingRefused(
            f"{slot.label}: this instrument is not in use at the machine's site. Choose one from the list.", slot.key
        )
    if choice.refusal:
        raise ReadingRefused(
            f"{slot.label}: instrument {choice.code} cannot be used for a signed reading: {choice.refusal}. "
            "Choose another.",
            slot.key,
        )
    if slot.dimension not in choice.dimensions:
        raise ReadingRefused(f"{slot.label}: instrument {choice.code} has no scale for {slot.dimension}.", slot.key)
    return choice.instrument
