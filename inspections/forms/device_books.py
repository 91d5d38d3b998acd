"""Which machines get a device book: those ticked in a list, or those whose asset numbers were pasted."""

import re

from django import forms

from fleet.models import Machine

MOST_NUMBERS = 200
NAMED = 10  # unknown numbers that are named in the message


def ticked_machines(machines, values):
    """Keep the machines whose keys were ticked; all of them if none was."""
    keys = {int(value) for value in values if value.isascii() and value.isdigit() and len(value) < 18}
    return machines.filter(pk__in=keys) if keys else machines


class NumbersForm(forms.Form):
    """Asset numbers as somebody lists them; retired machines are found too."""

    numbers = forms.CharField(
        label="Asset numbers", max_length=4000, widget=forms.Textarea({"rows": 3}),
        help_text="Separated by commas or lines. Retired machines are found too, whatever the list shows.",
    )  # fmt: skip

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person
        self.machines = Machine.objects.none()

    def clean_numbers(self):
        parts = (part.strip() for part in re.split(r"[,;\r\n\t]+", self.cleaned_data["numbers"]))
        asked = {part.lower(): part for part in parts if part}
        if not asked:
            raise forms.ValidationError(self.fields["numbers"].error_messages["required"], code="required")
        if len(asked) > MOST_NUMBERS:
            raise forms.ValidationError(f"{len(asked)} asset numbers are too many at once: {MOST_NUMBERS} at most.")
        either_case = [*asked.values(), *(part.upper() for part in asked.values())]
        self.machines = Machine.objects.visible_to(self.person).filter(asset_number__in=either_case)
        found = {number.lower() for number in self.machines.values_list("asset_number", flat=True)}
        if unknown := [part for key, part in asked.items() if key not in found]:
            more = f" and {len(unknown) - NAMED} more" if len(unknown) > NAMED else ""
            raise forms.ValidationError(
                f"No machine that you may see: {', '.join(unknown[:NAMED])}{more}. Nothing is made; mend the list."
            )
        return list(asked.values())
