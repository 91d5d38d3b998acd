"""The weights by which a site ranks its machines: one field for each hazard and each part of the burden."""

from django import forms

from fleet.catalogue import HAZARDS
from fleet.forms.fields import DecimalNumberField
from inspections.review import PARTS

HAZARD, BURDEN = "hazard_", "burden_"


class WeightsForm(forms.Form):
    """Weights 0 to 100, with one digit after the point at most, and the reason for them."""

    def __init__(self, data, *, weights):
        super().__init__(data)
        for code, hazard in HAZARDS.items():
            self._add(HAZARD, code, hazard.name, hazard.weight, weights.hazards[code])
        for code, part in PARTS.items():
            self._add(BURDEN, code, f"Burden: {part.name.lower()}", part.weight, weights.burden[code])
        self.fields["reason"] = forms.CharField(
            max_length=300,
            help_text="Who decided it and why. The review and its papers name it.",
            widget=forms.Textarea(attrs={"rows": 2}),
        )

    def _add(self, prefix, code, name, default, initial):
        self.fields[f"{prefix}{code}"] = DecimalNumberField(
            label=name, min_value=0, max_value=100, max_digits=4, decimal_places=1, initial=f"{initial:g}",
            help_text=f"Default {default:g}.",
        )  # fmt: skip

    def _of(self, prefix):
        return {
            name.removeprefix(prefix): value for name, value in self.cleaned_data.items() if name.startswith(prefix)
        }

    @property
    def hazards(self):
        return self._of(HAZARD)

    @property
    def burden(self):
        return self._of(BURDEN)
