"""The view of a circuit: a state of use or a single failure, and the unit of pressure."""

from django import forms

from fleet.circuits.state_view import ORDINARY, UNITS, pick
from fleet.place_format import current
from fleet.web.query_values import accepted_fields


class CircuitViewForm(forms.Form):
    show = forms.ChoiceField(
        label="Show",
        required=False,
        error_messages={"invalid_choice": "“%(value)s” is not a state of this circuit. Choose one from the list."},
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
        """Return the choice, or None if there is nothing to choose. Raises QueryRefused for a value not in the list."""
        return pick(self.groups, accepted_fields(self)["show"]) if self.groups else None

    @property
    def unit(self):
        return accepted_fields(self)["units"]
