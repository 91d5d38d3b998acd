"""The filter of a machine's cover table."""

from django import forms

from fleet.catalogue import HAZARDS
from fleet.circuit.state import Likelihood
from fleet.circuit.table import CauseGroup, Status
from fleet.circuit_covers.reading import GROUP_WORDS
from fleet.query_values import accepted_fields

STATUSES = [
    ("", "All"),
    (Status.OPEN, "Open"),
    (Status.TOLD, "Told by an alarm or a monitor"),
    (Status.STOPPED, "Stopped by a protection"),
]


class CoverTableForm(forms.Form):
    """Reads the filter from a query string; a parameter that is missing means all."""

    hazard = forms.ChoiceField(
        choices=[("", "All hazards"), *((h.code, h.name) for h in HAZARDS.values())], required=False
    )
    status = forms.ChoiceField(label="What becomes of it", choices=STATUSES, required=False)
    group = forms.ChoiceField(
        label="Where it begins",
        choices=[("", "Anywhere"), *((group, GROUP_WORDS[group].capitalize()) for group in CauseGroup)],
        required=False,
    )
    likelihood = forms.ChoiceField(
        label="How often it is met",
        choices=[("", "Any"), *((each, each.capitalize()) for each in Likelihood)],
        required=False,
    )

    def keep(self, rows):
        """Return the rows of a table that the filter selects."""
        wanted = {name: value for name, value in accepted_fields(self).items() if value}
        return [row for row in rows if all(_value(row, name) == value for name, value in wanted.items())]


def _value(row, name):
    if name in ("group", "likelihood"):
        return getattr(row.cause, name)
    return getattr(row, name)


class PairsForm(forms.Form):
    """Which pairs of causes to compute."""

    at_least = forms.ChoiceField(
        label="Each met at least",
        choices=[(Likelihood.COMMON, "commonly"), (Likelihood.OCCASIONAL, "occasionally")],
        error_messages={
            "required": "Say how often each cause must be met: common or occasional.",
            "invalid_choice": "“%(value)s” is not how often a cause is met here. Accepted: common, occasional.",
        },
    )
