"""A machine model and the safety features of a new machine."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue import FEATURES, Need
from fleet.circuits.machine_circuit import read_and_check
from fleet.forms.fields import day_field
from fleet.models import MachineModel, State
from fleet.models.components import gas_choices

OF_PARTS = (Need.PIPELINE, Need.YOKES, Need.VENTILATOR, Need.SCAVENGING, Need.MAINS_POWER)
LARGEST_FILE = 500_000  # bytes; a circuit of sixty components has about 15,000
MOST_PROBLEMS = 40
STATES = [("", "Not stated"), *State.choices]


class MachineModelForm(forms.ModelForm):
    gases = forms.MultipleChoiceField(choices=gas_choices, widget=forms.CheckboxSelectMultiple)
    lacks = forms.MultipleChoiceField(
        label="Not present on this model",
        required=False,
        choices=[(need.value, need.value.replace("-", " ")) for need in OF_PARTS],
        widget=forms.CheckboxSelectMultiple,
        help_text="Safety features of equipment that a model does not have do not apply to it.",
    )
    parts_until = day_field(
        "Spare parts until",
        required=False,
        help_text="Approved spare parts and qualified service are available until this date.",
    )

    circuit_file = forms.FileField(
        label="Gas circuit from a file",
        required=False,
        help_text="A circuit file (TOML) that replaces the text of the gas circuit.",
    )

    class Meta:
        model = MachineModel
        fields = [
            "code", "manufacturer", "name", "first_built", "last_built", "standard", "gases", "vaporizer_positions",
            "lacks", "description", "parts_until", "support_note",
            "vapour_free_minutes", "vapour_free_source", "circuit",
        ]  # fmt: skip
        widgets = {
            "description": forms.Textarea({"rows": 3}),
            "circuit": forms.Textarea({"rows": 12, "class": "circuit-text", "spellcheck": "false"}),
        }

    def clean_gases(self):
        gases = self.cleaned_data["gases"]
        if "oxygen" not in gases:
            raise ValidationError("Choose oxygen as well: every anaesthesia gas machine delivers it.")
        return gases

    def clean_circuit(self):
        """Normalise line ends: a browser sends other ones than were read."""
        return self.cleaned_data["circuit"].replace("\r\n", "\n")

    def clean_circuit_file(self):
        given = self.cleaned_data["circuit_file"]
        if given is None:
            return ""
        if given.size > LARGEST_FILE:
            raise ValidationError(f"The file has {given.size:,} bytes. Accepted: {LARGEST_FILE:,} at most.")
        try:
            return given.read().decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError as error:
            raise ValidationError(f"Byte {error.start} of the file is not UTF-8. Save it as UTF-8.") from None

    def clean(self):
        cleaned = super().clean()
        for name in ("circuit_file", "circuit"):
            if text := cleaned.get(name):
                _, problems = read_and_check(text, "circuit")
                for problem in problems[:MOST_PROBLEMS]:
                    self.add_error(name, str(problem))
                break
        if (cleaned.get("vapour_free_minutes") is None) != (not cleaned.get("vapour_free_source")):
            missing = "vapour_free_minutes" if cleaned.get("vapour_free_source") else "vapour_free_source"
            self.add_error(missing, "Enter the purge time and its source together, or neither of them.")
        first, last = cleaned.get("first_built"), cleaned.get("last_built")
        if first and last and last < first:
            self.add_error("last_built", f"{last} is before {first}, the first year of manufacture.")
        return cleaned

    def details(self):
        """Return the fields of the model; an uploaded file is its circuit."""
        details = {name: value for name, value in self.cleaned_data.items() if name != "circuit_file"}
        return details | ({"circuit": self.cleaned_data["circuit_file"]} if self.cleaned_data["circuit_file"] else {})


class ModelFeaturesForm(forms.Form):
    """One state for each feature of the catalogue; a feature without a state is not known on a new machine."""

    def __init__(self, *args, model=None, **kwargs):
        super().__init__(*args, **kwargs)
        stated = {row.feature: row.state for row in model.features.all()} if model else {}
        for code, feature in FEATURES.items():
            self.fields[code] = forms.ChoiceField(
                label=feature.name, choices=STATES, required=False, initial=stated.get(code, "")
            )

    def states(self):
        return {code: state for code, state in self.cleaned_data.items() if state}
