"""What the bench page sends: one reading at a time, or all of a step where scripts do not run."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.dimensions import find_unit
from fleet.catalogue.plausibility import use_bounds
from fleet.forms.fields import NumberField
from fleet.place_format import POINT, converted, current, rounded_quantity, shown_unit
from inspections.at_bench.field_names import column_names
from inspections.at_bench.reading_entry import checked_instrument, make_entry
from inspections.at_bench.slots import (
    MAX_ROWS,
    choice_slot,
    find_slot,
    fixed_choices,
    reading_shown,
    reading_slot,
)
from inspections.concurrent_edits import NOT_TOLD

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


def read_entry(data, slot, instruments):
    """Return the Entry that `data` holds for a place, written as at the site. Raise ReadingRefused.

    A cell without a unit, zero or instrument of its own takes those of its column.
    """
    sent = {setting: _setting(data, slot, setting) for setting in slot.names.settings}
    seen, decimal = _seen(data, slot), current().decimal
    return _entry(slot, data.get(slot.name, ""), sent, instruments, seen=seen, decimal=decimal)


def entry_with_column_settings(step, reading, data, instruments):
    """Return the Entry of a stored reading with the settings that `data` holds for its column. Raise ReadingRefused."""
    slot = find_slot(step, *reading.slot)
    sent = {setting: _column_setting(data, slot, setting) for setting in slot.names.settings}
    return _entry(slot, reading.as_read, sent, instruments, seen=reading.pk)


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


def _entry(slot, text, sent, instruments, *, seen, decimal=POINT):
    """The instrument is sent by its key; an empty text takes the reading back and needs none."""
    chosen = None
    if sent["instrument"] and text.strip() and not slot.options:
        choice = next((choice for choice in instruments if str(choice.pk) == sent["instrument"]), None)
        chosen = checked_instrument(slot, choice)
    unit = sent["unit"] or (slot.units[0] if slot.units else "")
    return make_entry(slot, text, unit=unit, zero=sent["zero"], instrument=chosen, seen=seen, decimal=decimal)


def _setting(data, slot, setting):
    own = data.get(slot.names.settings[setting])
    return own if own is not None else _column_setting(data, slot, setting)


def _column_setting(data, slot, setting):
    return data.get(column_names(slot.field, slot.column).settings[setting], "")


def _seen(data, slot):
    """The key of the reading that the form showed in the place, None for an empty place, else NOT_TOLD."""
    text = data.get(slot.names.seen)
    if text is None:
        return NOT_TOLD
    return int(text) if text.isascii() and text.isdigit() else None
