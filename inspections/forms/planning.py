"""Planning and voiding."""

from datetime import timedelta

from django import forms
from django.utils import timezone

from fleet.forms.fields import day_field
from inspections.models import Procedure

YEARS_AHEAD = 5


class PlanForm(forms.Form):
    procedure = forms.ModelChoiceField(Procedure.objects.all(), empty_label="Choose a procedure")
    due_on = day_field("Due on")
    note = forms.CharField(
        required=False, max_length=300, help_text="For example, why it is needed outside its interval."
    )

    def clean_due_on(self):
        due_on, today = self.cleaned_data["due_on"], timezone.localdate()
        latest = today + timedelta(days=366 * YEARS_AHEAD)
        if not today <= due_on <= latest:
            raise forms.ValidationError(f"{due_on} cannot be planned. Enter a day from {today} to {latest}.")
        return due_on


class VoidForm(forms.Form):
    """An inspection in progress needs confirmation; its readings stay, but nobody can continue it."""

    reason = forms.CharField(max_length=300, widget=forms.Textarea, help_text="Why this inspection does not count.")
    although_in_progress = forms.BooleanField(label="Void it anyway", required=False)

    def __init__(self, *args, in_progress, **kwargs):
        super().__init__(*args, **kwargs)
        if in_progress:
            self.fields[
                "although_in_progress"
            ].help_text = "Speak to them first: nobody can continue this inspection afterwards."
        else:
            del self.fields["although_in_progress"]
