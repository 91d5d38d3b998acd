"""Narrowing the findings, reporting a fault, closing a finding, planning its retest."""

from datetime import timedelta

import django_filters
from django import forms
from django.utils import timezone

from fleet.forms.fields import DecimalNumberField, day_field
from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.forms.passwords import PasswordForm
from inspections.models import Finding, FoundHow, Severity
from inspections.planning.failure_codes import CODES

NOT_CODED = "not-coded"
CODE_CHOICES = [(code.code, code.title) for code in CODES.values()]
CODE_HELP = "What each code means is below the form. It feeds the figures of the programme."
AGES = ((30, "30 days"), (90, "90 days"), (365, "a year"))


class FindingFilter(ListFilter):
    q = text_filter("Finding or machine")
    site = site_filter("machine__area__site", "Every site")
    severity = django_filters.ChoiceFilter(
        label="Severity", choices=[("essential", "Essential"), ("other", "Other")], empty_label="Every severity"
    )
    origin = django_filters.ChoiceFilter(label="Origin", choices=Finding.Origin.choices, empty_label="Every origin")
    code = django_filters.ChoiceFilter(
        label="Code", choices=[(NOT_CODED, "Not coded"), *CODE_CHOICES], empty_label="Every code", method="of_code"
    )
    age = django_filters.TypedChoiceFilter(
        label="Older than", choices=[("", "Any age"), *AGES], coerce=int, empty_value=None, method="older_than"
    )

    def of_code(self, findings, name, code):
        return findings.filter(code="" if code == NOT_CODED else code)

    def older_than(self, findings, name, days):
        return findings.opened_before(self.now - timedelta(days=days))


class CodingForm(forms.Form):
    """Why it was wrong, and what brought it to light."""

    code = forms.ChoiceField(
        label="Why it was wrong", choices=[("", "Choose a code"), *CODE_CHOICES], help_text=CODE_HELP
    )
    found_how = forms.ChoiceField(label="Found by", choices=[("", "Choose one"), *FoundHow.choices])
    cause = forms.CharField(
        label="Cause",
        required=False,
        max_length=300,
        help_text="As far as it is known, such as “diaphragm torn along the clamp”.",
    )


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
    code = forms.ChoiceField(
        label="Why it is wrong, if known",
        required=False,
        choices=[("", "Not known yet"), *CODE_CHOICES],
        help_text="It is asked for when the finding is closed.",
    )
    found_how = forms.ChoiceField(label="Found by", required=False, choices=[("", "Not stated"), *FoundHow.choices])

    def clean(self):
        if self.cleaned_data.get("code") and not self.cleaned_data.get("found_how"):
            self.add_error("found_how", "State with the code what brought the fault to light.")


class CloseForm(CodingForm):
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
    field_order = ["note", "code", "found_how", "cause", "work_hours"]


class EssentialCloseForm(PasswordForm, CloseForm):
    """Closing an essential finding lets a machine stay in use: it asks who decides."""

    note = forms.CharField(
        label="What was done, and why the machine is safe", max_length=200, widget=forms.Textarea(attrs={"rows": 4})
    )
    field_order = ["note", "code", "found_how", "cause", "work_hours", "password"]


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
