"""Parts fitted to a machine; what can be entered follows from the kind in the catalogue."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.components import UNITS, GasRule
from fleet.forms.fields import QuantityField, day_field
from fleet.models.components import gas_choices, kind_choices


class KindForm(forms.Form):
    """The kind of part, chosen first."""

    kind = forms.ChoiceField(
        label="Kind of part",
        choices=lambda: [("", "Choose a kind"), *sorted(kind_choices(), key=lambda pair: pair[1])],
        widget=forms.Select({"data-submit-on-change": ""}),
        error_messages={"invalid_choice": "“%(value)s” is not a kind of part. Choose one of the list."},
    )


class ComponentForm(forms.Form):
    """A part of one kind: identity, gas if it carries one, and the values it is rated for."""

    label = forms.CharField(max_length=80, help_text="What it is called on this machine, such as “N2O regulator”.")
    gas = forms.ChoiceField(choices=lambda: [("", "Choose a gas"), *gas_choices()])
    maker_part = forms.CharField(label="Part number", max_length=60, required=False)
    serial = forms.CharField(max_length=60, required=False)
    lot = forms.CharField(max_length=60, required=False)
    fitted_on = day_field("Fitted on")
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args, kind, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.kind, self.today = COMPONENT_KINDS[kind], today
        if self.kind.gas is GasRule.NONE:
            del self.fields["gas"]
        else:
            self.fields["gas"].required = self.kind.needs_gas
        for value in self.kind.rated:
            self.fields[f"rated_{value.key}"] = _rated_field(value)

    def clean_fitted_on(self):
        day = self.cleaned_data["fitted_on"]
        if day > self.today:
            raise ValidationError(f"{day} is in the future. Give a date up to {self.today}.")
        return day

    def details(self):
        """What `fit_component` needs, rated values gathered by key."""
        details = {name: value for name, value in self.cleaned_data.items() if not name.startswith("rated_")}
        rated = {value.key: self.cleaned_data.get(f"rated_{value.key}") for value in self.kind.rated}
        return {**details, "kind": self.kind.code, "rated": {key: pair for key, pair in rated.items() if pair}}


class RemovalForm(forms.Form):
    removed_on = day_field("Removed on")

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_removed_on(self):
        day = self.cleaned_data["removed_on"]
        if day > self.today:
            raise ValidationError(f"{day} is in the future. Give a date up to {self.today}.")
        return day


def _rated_field(value):
    units = (value.unit, *(unit for unit in UNITS[value.dimension] if unit != value.unit))
    help_text = "Gauge pressure." if value.dimension == "pressure" else ""
    return QuantityField(units, label=value.label, required=False, help_text=help_text)
