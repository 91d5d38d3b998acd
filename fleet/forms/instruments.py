"""Test equipment: identity, scales, calibrations."""

import django_filters
from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.dimensions import ALL_UNITS, UNITS, scale_dimensions
from fleet.catalogue.plausibility import SCALE_NUMBERS
from fleet.forms.fields import NumberField, day_field
from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.models import Calibration, Instrument, InstrumentScale, Site


class InstrumentFilter(ListFilter):
    q = text_filter()
    site = site_filter("site")
    calibration = django_filters.ChoiceFilter(
        label="Calibration",
        choices=[("ok", "In calibration"), ("soon", "Due within 30 days"), ("out", "Out of calibration")],
        empty_label="Any",
        method="in_standing",
    )

    def in_standing(self, instruments, name, standing):
        return instruments.in_standing(standing, self.today)


class InstrumentForm(forms.ModelForm):
    class Meta:
        model = Instrument
        fields = ["code", "name", "serial", "site"]

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        self.fields["code"].help_text = "As on its label, such as G-14."


class ScaleForm(forms.ModelForm):
    """One scale. Accuracy is the sum of the three parts; a coverage factor of 0 means hard limits."""

    dimension = forms.ChoiceField(choices=lambda: [("", "---------"), *scale_dimensions()])
    unit = forms.ChoiceField(choices=lambda: [(unit, unit) for unit in ALL_UNITS], initial=lambda: ALL_UNITS[0])

    class Meta:
        model = InstrumentScale
        fields = ["dimension", "unit", *SCALE_NUMBERS]
        field_classes = dict.fromkeys(SCALE_NUMBERS, NumberField)
        labels = {
            "low": "From",
            "high": "To",
            "of_reading_percent": "± % of reading",
            "of_span_percent": "± % of span",
            "absolute": "± fixed",
            "coverage_factor": "Coverage factor",
        }

    def clean(self):
        cleaned = super().clean()
        dimension, unit = cleaned.get("dimension"), cleaned.get("unit")
        if dimension and unit and unit not in UNITS[dimension]:
            self.add_error("unit", f"{unit} does not measure {dimension}. Accepted: {', '.join(UNITS[dimension])}.")
        return cleaned


class FilledScales(forms.BaseFormSet):
    def clean(self):
        if not any(self.errors) and not self.scales():
            raise ValidationError("Enter at least one scale: what the instrument measures, with range and accuracy.")

    def scales(self):
        """Return the keyword sets of the scales that were filled in."""
        return [form.cleaned_data for form in self.forms if form.has_changed() and form.cleaned_data]


ScaleFormSet = forms.formset_factory(ScaleForm, formset=FilledScales, extra=3, max_num=8, validate_max=True)


class CalibrationForm(forms.ModelForm):
    calibrated_on = day_field("Calibrated on")
    due_on = day_field("Valid until", help_text="The last day on which the calibration is valid.")

    class Meta:
        model = Calibration
        fields = ["calibrated_on", "due_on", "result", "certificate", "laboratory", "note"]

    def __init__(self, *args, instrument, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.subject, self.today = instrument, today

    def clean_calibrated_on(self):
        day = self.cleaned_data["calibrated_on"]
        if day > self.today:
            raise ValidationError(f"{day} is in the future. Enter a date up to {self.today}.")
        return day

    def clean_certificate(self):
        certificate = self.cleaned_data["certificate"].strip()
        if self.subject.calibrations.filter(certificate__iexact=certificate).exists():
            raise ValidationError(f"Certificate {certificate} of {self.subject} is already recorded.")
        return certificate

    def clean(self):
        cleaned = super().clean()
        start, end = cleaned.get("calibrated_on"), cleaned.get("due_on")
        if start and end and end <= start:
            self.add_error("due_on", f"{end} is not after the calibration on {start}. Enter a later date.")
        return cleaned
