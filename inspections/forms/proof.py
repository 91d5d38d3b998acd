"""A seal file, and a printed record to be checked."""

from django import forms
from django.core.exceptions import ValidationError

from inspections.chain.seals import SealError, read_seals
from inspections.reports.checking import MOST_BYTES

MOST_SEAL_BYTES = 200_000


class SealForm(forms.Form):
    """`seals` of the cleaned data is the text of the file, empty without one."""

    seals = forms.FileField(
        label="Seal file",
        required=False,
        allow_empty_file=True,
        help_text="A seal stored elsewhere. With it, removal of the newest records is detected too.",
        widget=forms.ClearableFileInput({"accept": ".txt,text/plain"}),
    )

    def clean_seals(self):
        file = self.cleaned_data["seals"]
        if not file:
            return ""
        if file.size > MOST_SEAL_BYTES:
            raise ValidationError(f"{file.name} has {file.size:,} bytes; a seal file has a line for each site.")
        try:
            text = file.read().decode("utf-8")
            read_seals(text)
        except UnicodeDecodeError:
            raise ValidationError(f"{file.name} is not a text file. Choose a file that was saved as a seal.") from None
        except SealError as error:
            raise ValidationError(str(error)) from None
        return text


class PaperForm(forms.Form):
    file = forms.FileField(
        label="PDF of a record",
        allow_empty_file=True,
        help_text="As printed by Bobbin. The file is compared and not stored.",
        widget=forms.ClearableFileInput({"accept": ".pdf,application/pdf"}),
        error_messages={"required": "Choose a PDF first."},
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(f"{file.name} has {file.size:,} bytes; at most {MOST_BYTES:,} are accepted.")
        return file
