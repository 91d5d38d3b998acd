"""Forms for machines: the filter above the list, and the entry of one machine."""

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, area_filter, site_filter, text_filter
from fleet.forms.selects import NamedChoiceFilter
from fleet.models import Area, Machine, MachineModel, MachineStatus, State
from fleet.models.features import feature_choices

STATUS_CHOICES = [*MachineStatus.choices, ("any", "Any")]
STATE_CHOICES = [(state.value, state.label) for state in (State.NOT_FITTED, State.NOT_KNOWN, State.FITTED)]


class MachineFilter(ListFilter):
    """The filter of the list of machines."""

    q = text_filter(autocomplete=False)
    site = site_filter("area__site")
    area = area_filter("area")
    model = NamedChoiceFilter(
        label="Model", queryset=MachineModel.objects.all(), empty_label="Any",
        columns=("manufacturer", "name"), words=MachineModel.in_words,
    )  # fmt: skip
    status = django_filters.ChoiceFilter(
        label="Status", choices=STATUS_CHOICES, empty_label="Not retired", method="with_status"
    )
    feature = django_filters.ChoiceFilter(
        label="Safety feature", choices=feature_choices, empty_label="Any", method="with_state"
    )
    state = django_filters.ChoiceFilter(label="State", choices=STATE_CHOICES, empty_label=None, method="of_the_list")

    def filter_queryset(self, queryset):
        machines = super().filter_queryset(queryset)
        return machines if self.form.cleaned_data["status"] else machines.not_retired()

    def with_status(self, machines, name, status):
        return machines if status == "any" else machines.filter(status=status)

    def with_state(self, machines, name, feature):
        return machines.with_feature(feature, self.form.cleaned_data["state"] or State.NOT_FITTED, self.today)


class MachineForm(forms.ModelForm):
    """The register entry of a machine; changes of status have their own pages, with a reason."""

    class Meta:
        model = Machine
        fields = ["asset_number", "serial", "model", "area", "built_year", "in_use_from", "note"]
        widgets = {"note": forms.Textarea({"rows": 3})}

    in_use_from = day_field(
        "In use from", help_text="First day of use. The register has no data from before this date."
    )

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")
        if self.instance.pk:
            self.fields[
                "model"
            ].help_text = "Correcting the model also corrects the safety features that were taken from the old model."

    def clean_asset_number(self):
        number = self.cleaned_data["asset_number"].strip()
        taken = Machine.objects.filter(asset_number__iexact=number).exclude(pk=self.instance.pk).first()
        if taken:
            raise ValidationError(f"Asset number {taken} is already in use. Enter one that no other machine has.")
        return number

    def clean(self):
        cleaned = super().clean()
        start, built = cleaned.get("in_use_from"), cleaned.get("built_year")
        today = timezone.localdate()
        if start and start > today:
            self.add_error("in_use_from", f"{start:%Y-%m-%d} is in the future. Enter a date up to {today:%Y-%m-%d}.")
        if start and built and built > start.year:
            self.add_error("built_year", f"{built} is later than the first day in use, {start:%Y-%m-%d}.")
        return cleaned
