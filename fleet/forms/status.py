"""Why a machine is withdrawn from use."""

from django import forms


class StatusChangeForm(forms.Form):
    reason = forms.CharField(
        max_length=300,
        widget=forms.Textarea({"rows": 3}),
        help_text="A colleague will read this years from now. At most 300 characters.",
        error_messages={"required": "Enter the reason in a sentence. It is kept in the machine's history."},
    )
    evidence = forms.CharField(
        max_length=120, required=False, help_text="The document behind it, such as a report number or an inspection."
    )
