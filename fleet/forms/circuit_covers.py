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
    (Status.TOLD, "Alarmed"),
    (Status.STOPPED, "Stopped"),
]


class CoverTableForm(forms.Form):
    """Reads the filter from a query string; what is left out means all."""

    hazard = forms.ChoiceField(
        choices=[("", "All hazards"), *((h.code, h.name) for h in HAZARDS.values())], required=False
    )
    status = forms.ChoiceField(label="Status", choices=STATUSES, required=False)
    group = forms.ChoiceField(
        label="Origin",
        choices=[("", "Any"), *((group, GROUP_WORDS[group].capitalize()) for group in CauseGroup)],
        required=False,
    )
    likelihood = forms.ChoiceField(
        label="Likelihood",
        choices=[("", "Any"), *((each, each.capitalize()) for each in Likelihood)],
        required=False,
    )

    def keep(self, rows):
        """Return the rows of a table that the filter keeps."""
        wanted = {name: value for name, value in accepted_fields(self).items() if value}
        return [row for row in rows if all(_value(row, name) == value for name, value in wanted.items())]


def _value(row, name):
    if name in ("group", "likelihood"):
        return getattr(row.cause, name)
    return getattr(row, name)


class PairsForm(forms.Form):
    """Which pairs of causes to compute."""

    at_least = forms.ChoiceField(
        label="Each cause at least",
        choices=[(Likelihood.COMMON, "common"), (Likelihood.OCCASIONAL, "occasional")],
        error_messages={
            "required": "Choose the least likelihood of each cause: common or occasional.",
            "invalid_choice": "“%(value)s” is not a likelihood. Accepted: common, occasional.",
        },
    )
