"""Why a machine is withdrawn from use."""

from django import forms


class DutyChangeForm(forms.Form):
    reason = forms.CharField(
        max_length=300,
        widget=forms.Textarea({"rows": 3}),
        help_text="What a colleague will read years from now. At most 300 characters.",
        error_messages={"required": "Say why, in a sentence. The reason stays on the machine's history."},
    )
    evidence = forms.CharField(
        max_length=120, required=False, help_text="What it rests on, such as a report number or an inspection."
    )
