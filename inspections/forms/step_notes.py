"""The remark and the photographs of a step."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.photographs import ACCEPTED
from inspections.models.step_notes import LONGEST_CAPTION, LONGEST_REMARK

TOO_LONG = "The caption has %(show_value)d characters; at most %(limit_value)d are accepted. Shorten it."


class RemarkForm(forms.Form):
    """`seen` is the remark that the page showed; `instead` another one, which is to be replaced knowingly."""

    remark = forms.CharField(required=False)
    seen = forms.CharField(required=False, max_length=40)
    instead = forms.CharField(required=False, max_length=40)

    def clean_remark(self):
        """Count line ends as the browser counts them: it sends two characters for each."""
        text = self.cleaned_data["remark"].replace("\r\n", "\n")
        if len(text) > LONGEST_REMARK:
            raise ValidationError(
                f"The remark has {len(text):,} characters; at most {LONGEST_REMARK:,} are accepted. Shorten it."
            )
        return text

    @property
    def shown(self):
        """What identifies the remark that the person has seen."""
        return self.cleaned_data["instead"] or self.cleaned_data["seen"]


class CaptionForm(forms.Form):
    caption = forms.CharField(required=False, max_length=LONGEST_CAPTION, error_messages={"max_length": TOO_LONG})


class PhotographForm(CaptionForm):
    """The file is decoded by the view, since that can be refused as busy."""

    photograph = forms.FileField(
        allow_empty_file=True,
        max_length=None,
        error_messages={"required": f"Choose a photograph. {ACCEPTED}", "invalid": f"Choose a photograph. {ACCEPTED}"},
    )
