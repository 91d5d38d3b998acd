"""What the bench page sends: one reading at a time, or all of a step where scripts do not run."""

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from fleet.catalogue.plausibility import use_bounds
from inspections.at_bench.field_names import column_names
from inspections.at_bench.reading_entry import checked_instrument, make_entry
from inspections.at_bench.slots import MAX_ROWS, choice_slot, find_slot, fixed_choices, reading_slot
from inspections.concurrent_edits import NOT_TOLD

AMBIENT_KPA, ROOM_C = use_bounds("ambient-pressure"), use_bounds("ambient-temperature")


class OpenForm(forms.Form):
    """The conditions at the bench. A pressure left empty is that of the standard atmosphere at the site's altitude."""

    ambient_kpa_abs = forms.FloatField(
        label="Ambient pressure (kPa absolute)",
        required=False,
        validators=[MinValueValidator(AMBIENT_KPA[0]), MaxValueValidator(AMBIENT_KPA[1])],
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )
    temperature_c = forms.FloatField(
        label="Room temperature (°C)",
        initial=20,
        validators=[MinValueValidator(ROOM_C[0]), MaxValueValidator(ROOM_C[1])],
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )

    def __init__(self, *args, site, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["ambient_kpa_abs"].help_text = (
            f"As measured, {AMBIENT_KPA[0]:g} to {AMBIENT_KPA[1]:g}. If left empty: "
            f"{site.ambient_pa_abs / 1000:.1f} kPa absolute, the standard atmosphere at {site.altitude_m} m "
            f"({site.name})."
        )
        self.fields["temperature_c"].help_text = f"As measured, {ROOM_C[0]:g} to {ROOM_C[1]:g}."


class NotTestedForm(forms.Form):
    reason = forms.CharField(
        label="Why is this step not tested?",
        max_length=300,
        help_text="It goes on the record, such as “No nitrous oxide supply at this bench today”.",
    )


def read_entry(data, slot, instruments):
    """Return the Entry that `data` holds for a place. Raise ReadingRefused.

    A cell without a unit, zero or instrument of its own takes those of its column.
    """
    sent = {setting: _setting(data, slot, setting) for setting in slot.names.settings}
    return _entry(slot, data.get(slot.name, ""), sent, instruments, seen=_seen(data, slot))


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
    return text == shown.as_read and all(data.get(names.settings[key], value) == value for key, value in was.items())


def sent_slots(step, test, data):
    """The places that `data` speaks of, in the order declared."""
    fixed = fixed_choices(step)
    slots = [choice_slot(spec) for spec in test.choices if spec.key not in fixed]
    slots += [reading_slot(spec, field=spec.key) for spec in test.readings]
    for table in test.tables:
        for row in range(MAX_ROWS):
            slots += [reading_slot(c, field=table.key, row=row, column=c.key) for c in table.columns]
    return [slot for slot in slots if slot.name in data]


def _entry(slot, text, sent, instruments, *, seen):
    """The instrument is sent by its key; an empty text takes the reading back and needs none."""
    chosen = None
    if sent["instrument"] and text.strip() and not slot.options:
        choice = next((choice for choice in instruments if str(choice.pk) == sent["instrument"]), None)
        chosen = checked_instrument(slot, choice)
    unit = sent["unit"] or (slot.units[0] if slot.units else "")
    return make_entry(slot, text, unit=unit, zero=sent["zero"], instrument=chosen, seen=seen)


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
