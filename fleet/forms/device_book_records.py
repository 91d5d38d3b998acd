"""The software of a machine, the people instructed on it, and withdrawing what was a mistake."""

from django import forms

from fleet.forms.components import UpToToday
from fleet.forms.fields import day_field

LONGEST_NAME = 120


class SoftwareForm(UpToToday, forms.Form):
    part = forms.CharField(
        label="Software of", max_length=80, required=False, help_text="Such as “ventilator”. Empty: the whole machine."
    )
    version = forms.CharField(max_length=60, help_text="As the display or the report writes it.")
    installed_on = day_field("Installed, or read, on")
    source = forms.CharField(
        max_length=300, help_text="Where it is from: the service report with its number, or “read on the display”."
    )

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_installed_on(self):
        return self.check_day("installed_on")


class InstructionForm(UpToToday, forms.Form):
    whole_area = forms.TypedChoiceField(
        label="Instructed on", choices=[(0, "This machine"), (1, "Every machine of its model in its area")],
        coerce=lambda value: bool(int(value)), widget=forms.RadioSelect, initial=0,
    )  # fmt: skip
    names = forms.CharField(
        label="People", max_length=6000, widget=forms.Textarea({"rows": 3}), help_text="One name a line."
    )
    held_on = day_field("On")
    instructor = forms.CharField(label="By whom", max_length=120, help_text="Name, and whose instructor it is.")
    topics = forms.CharField(
        label="On what", max_length=500, widget=forms.Textarea({"rows": 2}),
        help_text="Such as “check before use, alarms, what to do when oxygen fails”.",
    )  # fmt: skip
    valid_until = day_field("Valid until", required=False, help_text="The last day. Empty: without an end.")
    reference = forms.CharField(max_length=200, required=False, help_text="Such as the signed list in the files.")

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_held_on(self):
        return self.check_day("held_on")

    def clean_names(self):
        names = [one.strip() for one in self.cleaned_data["names"].splitlines() if one.strip()]
        if long := next((one for one in names if len(one) > LONGEST_NAME), None):
            raise forms.ValidationError(f"“{long[:40]}…” is longer than {LONGEST_NAME} letters. One name a line.")
        return names


class WithdrawRecordForm(forms.Form):
    reason = forms.CharField(max_length=300, help_text="Why it was a mistake. It stays on record.")
