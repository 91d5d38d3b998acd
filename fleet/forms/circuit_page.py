"""What is shown of a circuit: a state of use or one thing wrong, and the unit of pressure."""

from django import forms

from fleet.circuit_page import ORDINARY, UNITS, pick
from fleet.place_format import current
from fleet.query_values import accepted_fields


class CircuitViewForm(forms.Form):
    show = forms.ChoiceField(
        label="Show",
        required=False,
        error_messages={"invalid_choice": "“%(value)s” is not among what can be picked of this circuit."},
    )
    units = forms.ChoiceField(label="Pressures in", required=False, choices=[(unit, unit) for unit in UNITS])

    def __init__(self, data, *, groups):
        data = data.copy()
        data.setdefault("show", ORDINARY)
        preferred = current().unit_of("pressure")
        data.setdefault("units", preferred if preferred in UNITS else UNITS[0])
        super().__init__(data)
        self.groups = groups
        self.fields["show"].choices = [
            (title, [(choice.key, choice.title) for choice in choices]) for title, choices in groups
        ]
        if not groups:
            del self.fields["show"]

    @property
    def choice(self):
        """What was picked, or None where nothing can be. Raises QueryRefused for what is not in the list."""
        return pick(self.groups, accepted_fields(self)["show"]) if self.groups else None

    @property
    def unit(self):
        return accepted_fields(self)["units"]
