"""The filter of a machine's cover table."""

from django import forms

from fleet.catalogue import HAZARDS
from fleet.circuit.cover_rows import CauseGroup, Status
from fleet.circuit.state import Likelihood
from fleet.circuits.covers.rows_in_words import GROUP_WORDS
from fleet.web.query_values import accepted_fields

STATUSES = [
    ("", "All"),
    (Status.OPEN, "Open"),
    (Status.TOLD, "Alarmed"),
    (Status.STOPPED, "Stopped by a safety feature"),
    (Status.NOT_JUDGED, "Not judged"),
]


class CoverTableForm(forms.Form):
    """Reads the filter from a query string; an absent field means all."""

    hazard = forms.ChoiceField(
        choices=[("", "All hazards"), *((h.code, h.name) for h in HAZARDS.values())], required=False
    )
    status = forms.ChoiceField(label="Status", choices=STATUSES, required=False)
    group = forms.ChoiceField(
        label="Origin",
        choices=[("", "Anywhere"), *((group, GROUP_WORDS[group].capitalize()) for group in CauseGroup)],
        required=False,
    )
    likelihood = forms.ChoiceField(
        label="Likelihood",
        choices=[("", "Any"), *((each, each.capitalize()) for each in Likelihood)],
        required=False,
    )

    def keep(self, rows):
        """Return the rows of a table that match the filter."""
        wanted = {name: value for name, value in accepted_fields(self).items() if value}
        return [row for row in rows if all(_value(row, name) == value for name, value in wanted.items())]


def _value(row, name):
    if name in ("group", "likelihood"):
        return getattr(row.cause, name)
    return getattr(row, name)


class PairsForm(forms.Form):
    """Which pairs of causes to compute."""

    at_least = forms.ChoiceField(
        label="Each at least",
        choices=[(Likelihood.COMMON, "common"), (Likelihood.OCCASIONAL, "occasional")],
        error_messages={
            "required": "Choose how likely each cause must be: common or occasional.",
            "invalid_choice": "“%(value)s” is not a likelihood. Accepted: common, occasional.",
        },
    )
