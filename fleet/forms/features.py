"""The recorded state of a safety feature of a machine."""

from django import forms

from fleet.forms.fields import day_field
from fleet.models import Evidence, State

FOUND = [(e.value, e.label) for e in (Evidence.SEEN, Evidence.RETROFIT, Evidence.INSPECTION)]


class FeatureStateForm(forms.Form):
    state = forms.ChoiceField(choices=State.choices, widget=forms.RadioSelect)
    from_date = day_field("From", help_text="The first day of this state.")
    evidence = forms.ChoiceField(choices=FOUND)
    note = forms.CharField(
        max_length=300,
        required=False,
        widget=forms.Textarea({"rows": 3}),
        help_text="What was seen or done, with part numbers, and by whom. At most 300 characters.",
    )
