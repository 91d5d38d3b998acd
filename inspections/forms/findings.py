"""Narrowing the findings, reporting a fault, closing a finding, planning its retest."""

from datetime import timedelta

from django import forms
from django.utils import timezone

from fleet.forms.fields import DecimalNumberField, day_field
from fleet.forms.passwords import PasswordForm
from fleet.models import Site
from fleet.web.query_values import accepted_fields
from inspections.models import Finding, Severity

AGES = ((30, "30 days"), (90, "90 days"), (365, "a year"))


class FindingFilterForm(forms.Form):
    q = forms.CharField(label="Finding or machine", required=False, max_length=80)
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="Every site")
    severity = forms.ChoiceField(
        choices=[("", "Every severity"), ("essential", "Essential"), ("other", "Other")], required=False
    )
    origin = forms.ChoiceField(choices=[("", "Every origin"), *Finding.Origin.choices], required=False)
    age = forms.TypedChoiceField(
        label="Older than", choices=[("", "Any age"), *AGES], coerce=int, required=False, empty_value=None
    )

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)

    def narrow(self, findings, now):
        """Keep the findings that the form asks for; an empty choice keeps everything."""
        asked = accepted_fields(self)
        if asked.get("q"):
            findings = findings.found_by(asked["q"])
        if asked.get("site"):
            findings = findings.filter(machine__area__site=asked["site"])
        if asked.get("age"):
            findings = findings.opened_before(now - timedelta(days=asked["age"]))
        return findings.filter(**{name: asked[name] for name in ("severity", "origin") if asked.get(name)})


class FaultForm(forms.Form):
    title = forms.CharField(
        label="What is wrong", max_length=200, help_text="In a few words, such as “Flush button sticks”."
    )
    description = forms.CharField(
        label="Description of the fault",
        required=False,
        max_length=4000,
        widget=forms.Textarea,
        help_text="When, how often, what was observed.",
    )
    severity = forms.ChoiceField(
        choices=Severity.choices,
        widget=forms.RadioSelect,
        help_text="If in doubt choose essential: somebody then decides about withdrawal from use.",
    )


class CloseForm(forms.Form):
    note = forms.CharField(label="What was done", max_length=4000, widget=forms.Textarea)
    work_hours = DecimalNumberField(
        label="Hours of work",
        required=False,
        min_value=0,
        max_value=999,
        max_digits=6,
        decimal_places=1,
        help_text="In hours, such as 1.5 or 1,5. They count towards the maintenance burden in the retirement review.",
    )


class EssentialCloseForm(PasswordForm, CloseForm):
    """Closing an essential finding lets a machine stay in use: it asks who decides."""

    note = forms.CharField(
        label="What was done, and why the machine is safe", max_length=200, widget=forms.Textarea(attrs={"rows": 4})
    )
    field_order = ["note", "work_hours", "password"]


class RetestForm(forms.Form):
    findings = forms.ModelMultipleChoiceField(
        Finding.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text="Findings that the retest repeats. A release needs a pass for every essential finding.",
    )
    due_on = day_field("Due on")

    def __init__(self, *args, machine, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["findings"].queryset = Finding.objects.open().filter(machine=machine)

    def clean_due_on(self):
        due_on, today = self.cleaned_data["due_on"], timezone.localdate()
        if not today <= due_on <= today + timedelta(days=366):
            raise forms.ValidationError(f"{due_on} cannot be planned. Enter a day from {today} to a year ahead.")
        return due_on
