"""Components of a machine; the fields follow from the kind in the catalogue and from the circuit."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.components import GasRule
from fleet.catalogue.dimensions import DIMENSIONS, UNITS
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.units import UNITS_BY_DIMENSION
from fleet.forms.fields import QuantityField, day_field
from fleet.models.components import gas_choices, kind_choices


class KindForm(forms.Form):
    """The kind of component, chosen first."""

    kind = forms.ChoiceField(
        label="Kind of component",
        choices=lambda: [("", "Choose a kind"), *sorted(kind_choices(), key=lambda pair: pair[1])],
        widget=forms.Select({"data-submit-on-change": ""}),
        error_messages={"invalid_choice": "“%(value)s” is not a kind of component. Choose one from the list."},
    )


class UpToToday:
    """A form with a day that cannot be in the future; `today` is the date at the machine's site."""

    def check_day(self, name):
        day = self.cleaned_data[name]
        if day > self.today:
            raise ValidationError(f"{day} is in the future. Enter a date up to {self.today}.")
        return day


class ComponentForm(UpToToday, forms.Form):
    """A component of one kind: identity, gas if it carries one, its rated values, and the other fields of its kind."""

    label = forms.CharField(
        max_length=80, help_text="The name of the component on this machine, such as “N2O regulator”."
    )
    gas = forms.ChoiceField(choices=lambda: [("", "Choose a gas"), *gas_choices()])
    part_number = forms.CharField(label="Manufacturer's part number", max_length=60, required=False)
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
        element = ELEMENTS[kind]
        for key, words in element.options.items():
            self.fields[f"option_{key}"] = _option_field(key, words)
        rated = {value.key for value in self.kind.rated}
        for key, value in element.values.items():
            if key not in rated:
                self.fields[f"further_{key}"] = _further_field(key, value)

    @property
    def main_fields(self):
        return [field for field in self.visible_fields() if not field.name.startswith("further_")]

    @property
    def further_fields(self):
        return [field for field in self.visible_fields() if field.name.startswith("further_")]

    @property
    def has_further_error(self):
        return any(field.errors for field in self.further_fields)

    def clean_fitted_on(self):
        return self.check_day("fitted_on")

    def details(self):
        """Return the arguments of `fit_component`, rated values and options grouped by key."""
        plain = ("label", "gas", "part_number", "serial", "lot", "fitted_on", "note")
        details = {name: self.cleaned_data[name] for name in plain if name in self.cleaned_data}
        rated, further, options = (self._gathered(start) for start in ("rated_", "further_", "option_"))
        return {**details, "kind": self.kind.code, "rated": rated, "further": further, "options": options}

    def _gathered(self, start):
        given = {name.removeprefix(start): value for name, value in self.cleaned_data.items() if name.startswith(start)}
        return {key: value for key, value in given.items() if value}

    @staticmethod
    def initial_of(fields):
        """Return the initial values of a form for a component with `fields`, from a record or a circuit."""
        given = {name: fields.get(name, "") for name in ("label", "gas", "part_number")}
        for start, name in (("rated_", "rated"), ("further_", "further"), ("option_", "options")):
            given |= {f"{start}{key}": value for key, value in fields.get(name, {}).items()}
        return given


class RemovalForm(UpToToday, forms.Form):
    removed_on = day_field("Removed on")

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_removed_on(self):
        return self.check_day("removed_on")


def _rated_field(value):
    units = (value.unit, *(unit for unit in UNITS[value.dimension] if unit != value.unit))
    help_text = "Gauge pressure." if DIMENSIONS[value.dimension].has_zero else ""
    return QuantityField(units, dimension=value.dimension, label=value.label, required=False, help_text=help_text)


def _further_field(key, value):
    return QuantityField(
        UNITS_BY_DIMENSION.get(value.dimension, ("1",)),
        dimension=value.dimension,
        label=key.replace("_", " ").capitalize(),
        required=False,
        help_text=f"If left empty, a value from this source is used: {value.source}.",
    )


def _option_field(key, words):
    label = key.replace("_", " ").capitalize()
    if words == ("",):
        return forms.CharField(label=label, max_length=200, required=False)
    return forms.ChoiceField(label=label, choices=[(word, word or "not stated") for word in words], required=False)
