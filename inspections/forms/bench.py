"""What the bench page sends: one reading at a time, or all of a step where scripts do not run."""

from dataclasses import replace

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.dimensions import find_unit
from fleet.catalogue.plausibility import use_bounds
from fleet.forms.fields import NumberField
from fleet.place_format import POINT, converted, current, rounded_quantity, shown_unit
from inspections.at_bench.field_names import column_names
from inspections.at_bench.reading_entry import LONGEST, make_entry
from inspections.at_bench.slots import (
    MAX_ROWS,
    choice_slot,
    find_slot,
    fixed_choices,
    reading_shown,
    reading_slot,
)
from inspections.at_bench.taken_instrument import taken_instrument
from inspections.at_bench.typed_unit import TypedReading, read_typed
from inspections.bench import Context
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import ReadingRefused

NO_NUMBER, NO_NUMBER_OR_CODE = "is not a number.", "is not a number, nor the code of an instrument at this site."
STANDARD_PA_ABS = Context().ambient_pa_abs
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


def read_entry(data, slot, instruments, *, ambient_pa_abs=STANDARD_PA_ABS, decimal=None):
    """Return the Entry that `data` holds for a place, written as at the site. Raise ReadingRefused.

    decimal  decimal sign of who wrote it, if not that of the site

    A cell without a unit, zero or instrument of its own takes those of its column. A unit typed behind the number
    counts before the one chosen. Without a choice of the person, the instrument is the one that fits the value.
    """
    seen, decimal = _seen(data, slot), decimal or current().decimal
    try:
        entry = _entry(slot, data.get(slot.name, ""), _sent(data, slot, _setting), seen=seen, decimal=decimal)
    except ReadingRefused as error:
        raise ReadingRefused(str(error).replace(NO_NUMBER, NO_NUMBER_OR_CODE, 1), slot.key) from None
    return _with_instrument(entry, data, _setting, instruments, ambient_pa_abs)


def entry_with_column_settings(step, reading, data, instruments):
    """Return the Entry of a stored reading with the settings that `data` holds for its column. Raise ReadingRefused."""
    slot = find_slot(step, *reading.slot)
    entry = _entry(slot, reading.as_read, _sent(data, slot, _column_setting), seen=reading.pk)
    return _with_instrument(entry, data, _column_setting, instruments, step.inspection.ambient_pa_abs)


def sent_instrument(data, slot):
    """Return the key, as text, of the instrument that `data` holds for a place; empty for none."""
    return _setting(data, slot, "instrument")


def is_untouched(data, slot, laid_out):
    """Whether the form sends the place as it was laid out: with one of the readings `laid_out`, by key, or empty."""
    names, text = slot.names, data[slot.name].strip()
    shown = laid_out.get(data.get(names.seen))
    if shown is None:
        return not text
    was = {"unit": shown.unit, "zero": shown.zero, "instrument": str(shown.instrument_id or "")}
    same_settings = all(data.get(names.settings[key], value) == value for key, value in was.items())
    return text == reading_shown(shown) and same_settings


def sent_slots(step, test, data):
    """The places that `data` speaks of, in the order declared."""
    fixed = fixed_choices(step)
    slots = [choice_slot(spec) for spec in test.choices if spec.key not in fixed]
    slots += [reading_slot(spec, field=spec.key) for spec in test.readings]
    for table in test.tables:
        for row in range(MAX_ROWS):
            slots += [reading_slot(c, field=table.key, row=row, column=c.key) for c in table.columns]
    return [slot for slot in slots if slot.name in data]


def _entry(slot, text, sent, *, seen, decimal=POINT):
    """The Entry without its instrument."""
    typed = read_typed(slot, text) if len(text) <= LONGEST else TypedReading(text)
    unit = typed.unit or sent["unit"] or (slot.units[0] if slot.units else "")
    return make_entry(slot, typed.digits, unit=unit, zero=typed.zero or sent["zero"], seen=seen, decimal=decimal)


def _with_instrument(entry, data, setting, instruments, ambient_pa_abs):
    """The instrument is sent by its key, beside the one that the page proposed."""
    names, slot = entry.slot.names, entry.slot
    taken = taken_instrument(
        entry, setting(data, slot, "instrument"), setting(data, slot, "proposed"), instruments,
        is_corrected=bool(data.get(names.seen)), ambient_pa_abs=ambient_pa_abs,
    )  # fmt: skip
    return replace(entry, instrument=taken)


def _sent(data, slot, setting):
    return {name: setting(data, slot, name) for name in ("unit", "zero")}


def _setting(data, slot, setting):
    """What is sent for the place itself; where it has no setting of its own, what is sent for its column."""
    has_own = slot.names.settings[setting if setting != "proposed" else "instrument"] in data
    return data.get(_name(slot.names, setting), "") if has_own else _column_setting(data, slot, setting)


def _column_setting(data, slot, setting):
    return data.get(_name(column_names(slot.field, slot.column), setting), "")


def _name(names, setting):
    return names.proposed if setting == "proposed" else names.settings[setting]


def _seen(data, slot):
    """The key of the reading that the form showed in the place, None for an empty place, else NOT_TOLD."""
    text = data.get(slot.names.seen)
    if text is None:
        return NOT_TOLD
    return int(text) if text.isascii() and text.isdigit() else None
