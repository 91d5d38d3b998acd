"""Opening a serious incident, notes to it, and closing it."""

from django import forms

from inspections.incidents.report_rules import JURISDICTIONS


class OpenIncidentForm(forms.Form):
    jurisdiction = forms.ChoiceField(
        label="Rules of", required=False, choices=[("", "Not chosen: show all"), *JURISDICTIONS.items()]
    )


class IncidentNoteForm(forms.Form):
    text = forms.CharField(
        label="What is known", max_length=4000, widget=forms.Textarea({"rows": 4}),
        help_text="Settings and alarms as found, what was connected, who was present. A note cannot be changed later.",
    )  # fmt: skip


class CloseIncidentForm(forms.Form):
    reason = forms.CharField(
        label="Why it can be closed", max_length=2000, widget=forms.Textarea({"rows": 3}),
        help_text="Who agreed, and the reference of the report.",
    )  # fmt: skip
