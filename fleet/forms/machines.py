"""Forms for machines: the filter above the list, and the entry of one machine."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.forms.fields import day_field
from fleet.models import Area, Duty, Machine, MachineModel, Site, State
from fleet.models.features import feature_choices
from fleet.web.query_values import accepted_fields

DUTY_CHOICES = [("", "Not retired"), *Duty.choices, ("any", "Any")]


STATE_CHOICES = [(state.value, state.label) for state in (State.NOT_FITTED, State.NOT_KNOWN, State.FITTED)]


class MachineFilterForm(forms.Form):
    """The filter of the list of machines."""

    q = forms.CharField(
        label="Text", required=False, max_length=80, widget=forms.TextInput({"type": "search", "autocomplete": "off"})
    )
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="Any")
    area = forms.ModelChoiceField(Area.objects.none(), required=False, empty_label="Any")
    model = forms.ModelChoiceField(MachineModel.objects.all(), required=False, empty_label="Any")
    duty = forms.ChoiceField(label="Status", choices=DUTY_CHOICES, required=False)
    feature = forms.ChoiceField(
        label="Safety feature", choices=lambda: [("", "Any"), *feature_choices()], required=False
    )
    state = forms.ChoiceField(label="State", choices=STATE_CHOICES, required=False)

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")

    def narrow(self, machines, on):
        asked = accepted_fields(self)
        if asked.get("q"):
            machines = machines.found_by(asked["q"])
        places = {"area__site": asked.get("site"), "area": asked.get("area"), "model": asked.get("model")}
        machines = machines.filter(**{path: value for path, value in places.items() if value})
        if asked.get("feature"):
            machines = machines.with_feature(asked["feature"], asked.get("state") or State.NOT_FITTED, on)
        return self._with_duty(machines, asked.get("duty"))

    def _with_duty(self, machines, duty):
        if duty == "any":
            return machines
        return machines.filter(duty=duty) if duty else machines.not_retired()


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
