"""Fields that several forms share."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.plausibility import rated_problem
from fleet.days import FIRST_DAY, LAST_DAY, read_day


class DayField(forms.DateField):
    """A date from FIRST_DAY to LAST_DAY, entered by the browser's own date field."""

    def __init__(self, **options):
        bounds = {"min": FIRST_DAY.isoformat(), "max": LAST_DAY.isoformat()}
        super().__init__(widget=forms.DateInput({"type": "date", **bounds}, format="%Y-%m-%d"), **options)

    def to_python(self, value):
        if not isinstance(value, str):
            return super().to_python(value)
        try:
            return read_day(value.strip()) if value.strip() else None
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from None


def day_field(label, **options):
    """A date, entered by the browser's own date field."""
    return DayField(label=label, **options)


class QuantityWidget(forms.MultiWidget):
    """A number with the choice of its unit."""

    template_name = "fleet/widgets/quantity.html"
    use_fieldset = True

    def __init__(self, units):
        number = forms.NumberInput({"step": "any", "aria-label": "Value", "inputmode": "decimal"})
        unit = forms.Select({"aria-label": "Unit"}, choices=[(unit, unit) for unit in units])
        super().__init__([number, unit])

    def decompress(self, value):
        return value or [None, None]


class QuantityField(forms.MultiValueField):
    """A rated value of a dimension with its unit, as `[value, unit]`; None if the value is empty."""

    def __init__(self, units, *, dimension, **options):
        self.dimension = dimension
        fields = [forms.FloatField(required=False), forms.ChoiceField(choices=[(unit, unit) for unit in units])]
        super().__init__(fields, widget=QuantityWidget(units), require_all_fields=False, **options)

    def clean(self, value):
        if not value or value[0] in (None, ""):
            return None
        return super().clean(value)

    def compress(self, parts):
        if not parts or parts[0] is None:
            return None
        value, unit = parts
        if problem := rated_problem(value, self.dimension, unit):
            raise ValidationError(problem.of(f"{value:g} {unit}"))
        return [value, unit]
