"""Narrowing the findings, reporting a fault, closing a finding, planning its retest."""

from datetime import timedelta

import django_filters
from django import forms
from django.utils import timezone

from fleet.forms.fields import DecimalNumberField, day_field
from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.forms.passwords import PasswordForm
from inspections.models import Finding, Severity

AGES = ((30, "30 days"), (90, "90 days"), (365, "a year"))


class FindingFilter(ListFilter):
    q = text_filter("Finding or machine")
    site = site_filter("machine__area__site", "Every site")
    severity = django_filters.ChoiceFilter(
        label="Severity", choices=[("essential", "Essential"), ("other", "Other")], empty_label="Every severity"
    )
    origin = django_filters.ChoiceFilter(label="Origin", choices=Finding.Origin.choices, empty_label="Every origin")
    age = django_filters.TypedChoiceFilter(
        label="Older than", choices=[("", "Any age"), *AGES], coerce=int, empty_value=None, method="older_than"
    )

    def older_than(self, findings, name, days):
        return findings.opened_before(self.now - timedelta(days=days))


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
