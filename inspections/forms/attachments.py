"""Attaching a file, and withdrawing one."""

from django import forms

from inspections.models.attachments import LONGEST_REASON, LONGEST_TITLE

ENDINGS = ".pdf,.jpg,.jpeg,.png,.webp,.txt,.csv,.xlsx"


def file_field(label="File", *, required=True, help_text=""):
    """A file that the view looks into, since that can be refused in many ways."""
    return forms.FileField(
        label=label, required=required, allow_empty_file=True, max_length=None, help_text=help_text,
        widget=forms.ClearableFileInput({"accept": ENDINGS}), error_messages={"required": "Choose a file."},
    )  # fmt: skip


class AttachForm(forms.Form):
    title = forms.CharField(
        label="What it shows", max_length=LONGEST_TITLE,
        help_text="Such as “Certificate of the new oxygen cell” or “Letter of the manufacturer”.",
    )  # fmt: skip
    file = file_field()

    def __init__(self, *args, accepted_words="", **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["file"].help_text = accepted_words


class WithdrawFileForm(forms.Form):
    reason = forms.CharField(
        label="Why it is withdrawn", max_length=LONGEST_REASON, widget=forms.Textarea({"rows": 3}),
        help_text="Such as “Belongs to another machine”. The file stays stored and is marked as withdrawn.",
    )  # fmt: skip


class RemoveFileForm(forms.Form):
    reason = forms.CharField(
        label="Why the file is removed", max_length=LONGEST_REASON, widget=forms.Textarea({"rows": 3}),
        help_text="Who agreed, and the rule of the hospital. The row and the digest stay.",
    )  # fmt: skip
    never_should_be = forms.BooleanField(
        label="It should never have been stored", required=False,
        help_text="Such as a photograph on which a patient can be recognised. Its period then does not count.",
    )  # fmt: skip

    def __init__(self, *args, is_in_place=True, **kwargs):
        super().__init__(*args, **kwargs)
        if is_in_place:
            del self.fields["never_should_be"]
