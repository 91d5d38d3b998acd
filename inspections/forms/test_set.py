"""The instruments of a site from which a person chooses a test set."""

from django import forms


class InstrumentsOfDayForm(forms.Form):
    """`choices` are the InstrumentChoices of the site; those out of calibration are listed and cannot be chosen."""

    instruments = forms.MultipleChoiceField(
        label="Instruments", required=False, widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "One of these instruments is not in use at this site, or cannot be used."},
    )  # fmt: skip

    def __init__(self, data=None, *, choices, chosen):
        super().__init__(data, initial={"instruments": [str(pk) for pk in chosen]})
        self.usable = {str(choice.pk): choice for choice in choices if not choice.refusal}
        self.unusable = [choice for choice in choices if choice.refusal]
        field = self.fields["instruments"]
        field.choices = [(pk, _label(choice)) for pk, choice in self.usable.items()]
        if self.unusable:
            field.help_text = f"Out of calibration: {'; '.join(choice.label for choice in self.unusable)}."

    @property
    def chosen(self):
        return [self.usable[pk] for pk in self.cleaned_data["instruments"]]


def _label(choice):
    scales = "; ".join(str(scale) for scale in choice.instrument.scales.all())
    return f"{choice.label}: {scales}" if scales else choice.label
