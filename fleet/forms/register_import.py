"""The register file to be imported."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.register_file import MAX_BYTES


class RegisterFileForm(forms.Form):
    file = forms.FileField(
        label="Register file",
        allow_empty_file=True,
        help_text=f"CSV in UTF-8, columns separated by commas, a header first. At most 10,000 machines and "
        f"{MAX_BYTES // 1024 // 1024} MB.",
        widget=forms.ClearableFileInput({"accept": ".csv,text/csv"}),
        error_messages={"required": "Choose a file first."},
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > MAX_BYTES:
            raise ValidationError(
                f"{file.name} has {file.size:,} bytes; at most {MAX_BYTES:,} are accepted. Split it in two."
            )
        return file
