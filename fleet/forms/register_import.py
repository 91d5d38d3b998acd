"""The register file to be imported, and how it is read."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.extensions import procedure_choices
from fleet.register_file import DATE_ORDERS, DELIMITERS, ENCODINGS, KINDS, LAST_INSPECTED, MAX_BYTES, Settings

LEFT_OUT, UNKNOWN = "-", "?"
SHAPE = ("encoding", "delimiter", "sheet", "header_row")


class RegisterFileForm(forms.Form):
    kind = forms.ChoiceField(
        label="Contents", choices=[(kind.code, kind.title) for kind in KINDS.values()], initial="machines"
    )
    file = forms.FileField(
        label="File",
        allow_empty_file=True,
        help_text=f"CSV or XLSX as saved by your spreadsheet program. At most 10,000 rows and "
        f"{MAX_BYTES // 1024 // 1024} MB.",
        widget=forms.ClearableFileInput({"accept": ".csv,.txt,.tsv,.xlsx,text/csv"}),
        error_messages={"required": "Choose a file first."},
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > MAX_BYTES:
            raise ValidationError(
                f"{file.name} has {file.size:,} bytes; at most {MAX_BYTES:,} are accepted. Split it in two."
            )
        return file


class ReadingForm(forms.Form):
    """How a stored file is read: its shape, its dates, and one choice for each of its columns.

    reading  the `reading` of the upload's snapshot
    """

    def __init__(self, *args, upload, **kwargs):
        super().__init__(*args, **kwargs)
        self.kind, self.said = upload.file_kind, upload.read_settings
        self.reading = upload.snapshot["reading"]
        self._add_shape()
        self._add_dates()
        self._add_counts_as()
        for position, column in enumerate(self.reading["columns"]):
            self.fields[f"column_{position}"] = self._column_field(column)

    @property
    def asks_dates(self):
        return any(question["about"] == "dates" for question in self.reading["questions"])

    def settings_fields(self):
        """Return the bound fields of the shape and the dates."""
        return [self[name] for name in self.fields if not name.startswith("column_")]

    def columns(self):
        """Return (column of the file, its bound field) of each column."""
        return [(column, self[f"column_{position}"]) for position, column in enumerate(self.reading["columns"])]

    def clean(self):
        cleaned = super().clean()
        chosen = {}
        for position in range(len(self.reading["columns"])):
            name = f"column_{position}"
            value = cleaned.get(name)
            if value == UNKNOWN:
                self.add_error(name, "Choose what this column is, or leave it out.")
            elif value and value != LEFT_OUT and value in chosen:
                self.add_error(name, f"“{chosen[value]}” is already {value}. Only one column can be.")
            elif value:
                chosen[value] = self.reading["columns"][position]["label"]
        if not self.errors and self.kind.sign not in chosen:
            raise ValidationError(f"Choose which column is {self.kind.sign}. Without it the rows cannot be identified.")
        return cleaned

    def shape(self):
        """Return the shape that was sent, even if other fields are empty; an empty choice is detected again."""
        self.is_valid()
        return {name: self.cleaned_data[name] for name in SHAPE if self.cleaned_data.get(name)}

    def has_new_shape(self):
        return any(value != self.reading[name] for name, value in self.shape().items())

    def settings(self):
        """Return the Settings that were chosen; only for a valid form."""
        labels = [column["label"] for column in self.reading["columns"]]
        chosen = [self.cleaned_data[f"column_{position}"] for position in range(len(labels))]
        columns = {label: "" if value == LEFT_OUT else value for label, value in zip(labels, chosen, strict=True)}
        return Settings(
            **self.shape(),
            date_order=self.cleaned_data["date_order"] or None,
            columns=columns,
            counts_as=self.cleaned_data.get("counts_as"),
        )

    def _add_shape(self):
        if self.reading["form"] == "XLSX":
            sheets = [(name, name) for name in self.reading["sheets"]]
            self.fields["sheet"] = forms.ChoiceField(choices=sheets, initial=self.reading["sheet"])
        else:
            sample = ", ".join(self.reading["sample"])
            self.fields["encoding"] = forms.ChoiceField(
                choices=ENCODINGS.items(),
                initial=self.reading["encoding"],
                label="Text encoding",
                help_text=f"Sample: {sample}" if sample else "Only letters that are the same in all of these.",
            )
            names = [(delimiter, name.capitalize()) for delimiter, name in DELIMITERS.items()]
            self.fields["delimiter"] = forms.ChoiceField(
                choices=names, initial=self.reading["delimiter"], label="Column separator"
            )
        self.fields["header_row"] = forms.IntegerField(
            min_value=1, max_value=100_000, initial=self.reading["header_row"], label="Header row"
        )

    def _add_dates(self):
        asked = self.asks_dates
        choices = [("", "Not chosen yet" if asked else "As detected"), *DATE_ORDERS.items()]
        self.fields["date_order"] = forms.ChoiceField(
            choices=choices,
            required=asked,
            initial=self.said.date_order or "",
            label="Dates",
            error_messages={
                "required": "Choose how the dates are written: in this file day and month can be read both ways."
            },
        )

    def _add_counts_as(self):
        columns = {column["column"] for column in self.reading["columns"]}
        if self.kind.code != "earlier-inspections" and LAST_INSPECTED not in columns:
            return
        choices = procedure_choices()
        first = choices[0][0] if choices else ""
        initial = first if self.said.counts_as is None else self.said.counts_as
        self.fields["counts_as"] = forms.ChoiceField(
            choices=[*choices, ("", "None: history only")],
            required=False,
            initial=initial,
            label="Count towards the due date of",
            help_text="For rows that name no procedure. The last date then sets the due date of the next inspection "
            "to be planned; inspections that are already planned keep their dates.",
        )

    def _column_field(self, column):
        known = [(name, name) for name in self.kind.columns]
        choices = [(LEFT_OUT, "left out"), *known]
        initial = column["column"] or (LEFT_OUT if column["how"] else UNKNOWN)
        if initial == UNKNOWN:
            choices.insert(0, (UNKNOWN, "not chosen yet"))
        return forms.ChoiceField(choices=choices, initial=initial, label=column["label"])
