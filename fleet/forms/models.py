"""A machine model and what every example of it had when new."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue import FEATURES, Need
from fleet.forms.fields import day_field
from fleet.models import MachineModel, State
from fleet.models.components import gas_choices

OF_PARTS = (Need.PIPELINE, Need.YOKES, Need.VENTILATOR, Need.SCAVENGING, Need.MAINS_POWER)
STATES = [("", "Not stated"), *State.choices]


class MachineModelForm(forms.ModelForm):
    gases = forms.MultipleChoiceField(choices=gas_choices, widget=forms.CheckboxSelectMultiple)
    lacks = forms.MultipleChoiceField(
        label="No example of it has",
        required=False,
        choices=[(need.value, need.value.replace("-", " ")) for need in OF_PARTS],
        widget=forms.CheckboxSelectMultiple,
        help_text="Protections of what a type does not have do not apply to it.",
    )
    parts_until = day_field(
        "Parts until", required=False, help_text="Approved parts and qualified service are to be had until this date."
    )

    class Meta:
        model = MachineModel
        fields = [
            "code", "maker", "name", "first_built", "last_built", "standard", "gases", "vaporizer_positions", "lacks",
            "description", "parts_until", "support_note",
        ]  # fmt: skip
        widgets = {"description": forms.Textarea({"rows": 3})}

    def clean_gases(self):
        gases = self.cleaned_data["gases"]
        if "oxygen" not in gases:
            raise ValidationError("Oxygen must be among the gases: these are anaesthesia gas machines.")
        return gases

    def clean(self):
        cleaned = super().clean()
        first, last = cleaned.get("first_built"), cleaned.get("last_built")
        if first and last and last < first:
            self.add_error("last_built", f"{last} is before {first}, the first year of building.")
        return cleaned


class ModelFeaturesForm(forms.Form):
    """One state for each feature of the catalogue; what is not stated is not known on a new machine."""

    def __init__(self, *args, model=None, **kwargs):
        super().__init__(*args, **kwargs)
        stated = {row.feature: row.state for row in model.features.all()} if model else {}
        for code, feature in FEATURES.items():
            self.fields[code] = forms.ChoiceField(
                label=feature.name, choices=STATES, required=False, initial=stated.get(code, "")
            )

    def states(self):
        return {code: state for code, state in self.cleaned_data.items() if state}
