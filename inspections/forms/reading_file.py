"""A file of an instrument for one step: the file, where its columns go, and its values read as typed ones are."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.place_format import POINT, current
from fleet.register_file.plain_rows import MAX_BYTES, MAX_ROWS
from inspections.at_bench.field_names import column_names
from inspections.at_bench.reading_entry import refuse_unreadable
from inspections.at_bench.reading_file import LEFT_OUT, ColumnUse, Mapping, guessed_use, placed_texts
from inspections.errors import ReadingRefused
from inspections.forms.bench import read_entry

LONGEST_TEXT = 200_000
SAMPLES = 3
DECIMALS = ((POINT, "point, as in 24.5"), (",", "comma, as in 24,5"))
FORMULA = ("=", "@")


class ReadingFileForm(forms.Form):
    """`choices` are the InstrumentChoices of the site that may be used."""

    instrument = forms.ChoiceField(
        label="Instrument that wrote it",
        required=False,
        help_text="Its readings name this instrument. Where the columns go is remembered for instruments of its name.",
    )
    file = forms.FileField(
        label="File",
        required=False,
        allow_empty_file=True,
        help_text=f"CSV or XLSX, at most {MAX_ROWS} rows and {MAX_BYTES // 1024 // 1024} MB.",
        widget=forms.ClearableFileInput({"accept": ".csv,.txt,.tsv,.xlsx,text/csv"}),
    )
    text = forms.CharField(
        label="Or paste its text",
        required=False,
        strip=False,
        max_length=LONGEST_TEXT,
        widget=forms.Textarea({"rows": 6, "spellcheck": "false"}),
        help_text="With its header row.",
    )

    def __init__(self, *args, choices, **kwargs):
        super().__init__(*args, **kwargs)
        self.choices = {str(choice.pk): choice for choice in choices if not choice.refusal}
        listed = [(pk, choice.label) for pk, choice in self.choices.items()]
        self.fields["instrument"].choices = [("", "none of these"), *listed]

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file and file.size > MAX_BYTES:
            raise ValidationError(f"{file.name} has {file.size:,} bytes. Accepted: at most {MAX_BYTES:,} bytes.")
        return file

    def clean(self):
        cleaned = super().clean()
        if not self.errors and not cleaned.get("file") and not cleaned.get("text", "").strip():
            raise ValidationError("There is no file and no text. Choose a file, or paste its text.")
        return cleaned

    @property
    def content(self):
        """The bytes of the file, else those of the text."""
        file = self.cleaned_data["file"]
        return file.read() if file else self.cleaned_data["text"].encode()


class ReadingColumnsForm(forms.Form):
    """Where each column of a file goes. `rows` are its PlainRows, `mapping` is how they were assigned before."""

    decimal = forms.ChoiceField(label="Decimal sign of the file", choices=DECIMALS)

    def __init__(self, *args, rows, targets, mapping=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.rows, self.targets = rows, targets
        uses = mapping.columns if mapping else {label: guessed_use(label, targets) for label in rows.labels}
        self.fields["decimal"].initial = mapping.decimal if mapping else rows.decimal or current().decimal
        places = [(LEFT_OUT, "left out"), *((name, target.label) for name, target in targets.items())]
        units = dict.fromkeys(unit for target in targets.values() for unit in target.slot.units)
        for position, label in enumerate(rows.labels):
            use = uses[label]
            to = forms.ChoiceField(label=f"{label} goes to", choices=places, required=False, initial=use.to)
            unit = forms.ChoiceField(
                label=f"Unit of {label}", required=False, initial=use.unit,
                choices=[("", "not stated"), *((one, one) for one in units)],
            )  # fmt: skip
            self.fields |= {f"to_{position}": to, f"unit_{position}": unit}

    @property
    def columns(self):
        """Each column with its first values and its two fields."""
        for position, label in enumerate(self.rows.labels):
            samples = [cells[position] for _, cells in self.rows.rows if cells[position]][:SAMPLES]
            yield {"label": label, "samples": samples, "to": self[f"to_{position}"], "unit": self[f"unit_{position}"]}

    def clean(self):
        cleaned = super().clean()
        taken = {}
        for position, label in enumerate(self.rows.labels):
            to, unit = cleaned.get(f"to_{position}"), cleaned.get(f"unit_{position}")
            target = self.targets.get(to)
            if target is None:
                continue
            if to in taken:
                self.add_error(f"to_{position}", f"“{taken[to]}” goes there already. Only one column can.")
            if unit and unit not in target.slot.units:
                accepted = " or ".join(target.slot.units)
                self.add_error(f"unit_{position}", f"{target.label} takes no {unit}. Accepted: {accepted}.")
            taken.setdefault(to, label)
        if not taken and not self.errors:
            raise ValidationError("No column goes anywhere. Choose a place for at least one.")
        return cleaned

    @property
    def mapping(self):
        """The Mapping that was chosen; only of a valid form."""
        said = self.cleaned_data
        uses = {
            label: ColumnUse(said[f"to_{position}"], said[f"unit_{position}"] if said[f"to_{position}"] else "")
            for position, label in enumerate(self.rows.labels)
        }
        return Mapping(uses, said["decimal"])


def placed_values(step, rows, mapping, targets, instruments, *, instrument, entry, data=None):
    """Return the PlacedValues of a file, each with its Entry or why it has none, and with what is there now.

    instrument  the InstrumentChoice that wrote the file, None if it is not known
    entry       the StepEntry of the step
    data        what the page that showed them sends back, with the readings that it showed; None at first
    """
    units = {use.to: use.unit for use in mapping.columns.values()}
    values = placed_texts(rows, mapping, targets)
    for value in values:
        slot = value.slot
        value.reading = entry.standing.get(slot.key)
        name = slot.name if slot.name in units else column_names(slot.field, slot.column).value
        sent = _as_sent(value, units[name], instrument, entry, data)
        if not value.refusal:
            _read(value, sent, step, instruments, mapping.decimal)
    return values


def _as_sent(value, unit, instrument, entry, data):
    """A value as the fields of the bench form would hold it."""
    slot, settings = value.slot, entry.settings(value.slot)
    names = slot.names
    is_read = instrument is not None and slot.needs_instrument
    proposed = str(settings.instrument_id or "")
    seen = str(value.reading.pk) if value.reading else ""
    return {
        names.value: value.text,
        names.unit: unit or settings.unit,
        names.zero: settings.zero,
        names.instrument: str(instrument.pk) if is_read else proposed,
        names.proposed: "" if is_read else proposed,
        names.seen: seen if data is None else data.get(names.seen, ""),
    }


def _read(value, sent, step, instruments, decimal):
    if value.text.startswith(FORMULA):
        value.refusal = "It is a formula. Accepted: its value."
        return
    try:
        read = read_entry(
            sent, value.slot, instruments, ambient_pa_abs=step.inspection.ambient_pa_abs, decimal=decimal
        )  # fmt: skip
        refuse_unreadable(read)
    except ReadingRefused as error:
        value.refusal = str(error)
        return
    value.entry = read
