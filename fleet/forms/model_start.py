"""A machine model that starts from a kind of machine: only what differs is asked, the circuit comes from the kit."""

from functools import cache

from django import forms

from fleet.catalogue import FEATURES, FeatureClass
from fleet.circuit.derived_features import derived_features
from fleet.circuit.files import read_circuit
from fleet.circuit.kit import CHOICES, MACHINE_KINDS, start_of
from fleet.circuit.kit.building import NO, YES
from fleet.circuits.machine_circuit import MachineCircuit
from fleet.circuits.state_view import ordinary, view_of
from fleet.forms.models import STATES
from fleet.models import MachineModel
from fleet.models.free_codes import free_code

KIT, FEATURE = "kit-", "feature-"


def model_fields(kind, chosen=None, *, title):
    """Return the fields with which `add_model` makes a model of this kind."""
    start = start_of(kind, chosen or {}, title=title)
    return {
        "gases": list(start.gases),
        "vaporizer_positions": start.vaporizer_positions,
        "lacks": list(start.lacks),
        "circuit": start.circuit,
        "features": dict(start.features),
    }


@cache
def asked_features():
    """Return the codes of the features that no circuit of the kit shows, so that a person states them."""
    starts = (start_of(kind, title="kit").circuit for kind in MACHINE_KINDS.values())
    shown = {code for text in starts for code in derived_features(read_circuit(text))}
    return tuple(code for code in FEATURES if code not in shown)


class ModelStartForm(forms.ModelForm):
    """Name and support of a model, the choices of the kit as the kind presets them, and features no circuit shows."""

    class Meta:
        model = MachineModel
        fields = ["manufacturer", "name", "first_built", "last_built", "standard", "parts_until", "support_note"]

    def __init__(self, *args, kind, **kwargs):
        super().__init__(*args, **kwargs)
        self.kind = kind
        for code, choice in CHOICES.items():
            self.fields[KIT + code] = _kit_field(choice, kind.choices.get(code, choice.default))
        preset = dict.fromkeys(kind.fitted, "fitted") | dict.fromkeys(kind.not_fitted, "not fitted")
        for code in asked_features():
            self.fields[FEATURE + code] = forms.ChoiceField(
                label=_feature_label(FEATURES[code]), choices=STATES, required=False, initial=preset.get(code, "")
            )

    def identity(self):
        return [self[name] for name in self.Meta.fields]

    def parts(self):
        """Return (heading, bound fields) of the choices of the kit."""
        found = {}
        for code, choice in CHOICES.items():
            found.setdefault(choice.heading, []).append(self[KIT + code])
        return list(found.items())

    def features(self):
        return [self[FEATURE + code] for code in asked_features()]

    def clean(self):
        cleaned = super().clean()
        first, last = cleaned.get("first_built"), cleaned.get("last_built")
        if first and last and last < first:
            self.add_error("last_built", f"{last} is before {first}, the first year of manufacture.")
        return cleaned

    def chosen(self):
        """Return the answers of the kit; only for a valid form."""
        given = {code: self.cleaned_data[KIT + code] for code in CHOICES}
        return {code: (YES if answer else NO) if CHOICES[code].is_tick else answer for code, answer in given.items()}

    def details(self):
        """Return the fields of the model with which `add_model` makes it."""
        own = {name: self.cleaned_data[name] for name in self.Meta.fields}
        title = f"{own['manufacturer']} {own['name']}"
        made = model_fields(self.kind, self.chosen(), title=title)
        stated = {code: self.cleaned_data[FEATURE + code] for code in asked_features()}
        features = {code: state for code, state in made["features"].items() if code not in stated}
        made["features"] = features | {code: state for code, state in stated.items() if state}
        return {**own, **made, "code": free_code(MachineModel, title, 40), "description": self.kind.about}


def _kit_field(choice, initial):
    if choice.is_tick:
        return forms.BooleanField(label=choice.label, required=False, initial=initial == YES)
    return forms.ChoiceField(label=choice.label, choices=list(choice.options.items()), initial=initial)


def _feature_label(feature):
    is_unwanted = feature.feature_class is FeatureClass.UNWANTED
    return f"{feature.name} (unwanted: its presence is the problem)" if is_unwanted else feature.name


def preview_of(details):
    """Return the drawing of the circuit in ordinary use, and each feature it shows with its state and the reason."""
    circuit = read_circuit(details["circuit"])
    view = view_of(MachineCircuit(circuit, False, "as the kit builds it", ()), ordinary(circuit))
    shown = [
        {
            "name": FEATURES[code].name,
            "state": derived.state,
            "because": derived.because,
            "is_unwanted": FEATURES[code].feature_class is FeatureClass.UNWANTED and derived.state == "fitted",
        }
        for code, derived in derived_features(circuit).items()
    ]
    return {"view": view, "shown": shown}
