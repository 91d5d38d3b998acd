"""Fields that several forms share."""

import re

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue.plausibility import rated_problem
from fleet.days import FIRST_DAY, LAST_DAY, day_within, long_date, read_day
from fleet.place_format import (
    NumberRefused,
    current,
    number_text,
    quantities_in_words,
    read_number,
    read_written_day,
)

WRITTEN_OTHERWISE = re.compile(r"[/. ]")  # signs between the parts of a day that ISO 8601 does not use


class NumberInput(forms.TextInput):
    """A field for digits: the browser's own number field would refuse the decimal sign of another language."""

    def __init__(self, attrs=None):
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})

    def format_value(self, value):
        """A number in the sign of the place; a text that was typed stays as it is."""
        return (value or None) if value is None or isinstance(value, str) else number_text(value, current().decimal)


class BothSigns:
    """Reads a decimal point and a decimal comma."""

    def to_python(self, value):
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        try:
            return super().to_python(read_number(value, current().decimal, exponent=True))
        except NumberRefused as error:
            raise ValidationError(str(error), code="invalid") from None


class NumberField(BothSigns, forms.FloatField):
    widget = NumberInput


class DecimalNumberField(BothSigns, forms.DecimalField):
    widget = NumberInput


class DayInput(forms.DateInput):
    """The browser's own date field, which sends ISO 8601 whatever it shows, and the day as the page writes it.

    A browser shows days as its own language does, so what it shows can be read as another day than the page's; the
    words beside cannot.
    """

    template_name = "fleet/widgets/day.html"

    def __init__(self):
        bounds = {"min": FIRST_DAY.isoformat(), "max": LAST_DAY.isoformat()}
        super().__init__({"type": "date", **bounds}, format="%Y-%m-%d")

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        written = context["widget"]["value"]
        context["widget"]["words"] = _words_of(written) if written else ""
        return context


def _words_of(written):
    try:
        return long_date(read_day(written))
    except ValueError:
        return ""


class DayField(forms.DateField):
    """A date from FIRST_DAY to LAST_DAY; without a browser's date field also as the place writes days."""

    def __init__(self, **options):
        super().__init__(widget=DayInput(), **options)

    def to_python(self, value):
        if not isinstance(value, str):
            return super().to_python(value)
        try:
            return _day_in(value.strip()) if value.strip() else None
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from None


def _day_in(text):
    """Read ISO 8601 first: its refusal says what every browser's date field can send."""
    try:
        return read_day(text)
    except ValueError:
        if not WRITTEN_OTHERWISE.search(text):
            raise
    return day_within(read_written_day(text, current().day))


def day_field(label, **options):
    """A date, entered by the browser's own date field."""
    return DayField(label=label, **options)


class QuantityWidget(forms.MultiWidget):
    """A number with the choice of its unit."""

    template_name = "fleet/widgets/quantity.html"
    use_fieldset = True

    def __init__(self, units):
        number = NumberInput({"aria-label": "Value"})
        unit = forms.Select({"aria-label": "Unit"}, choices=[(unit, unit) for unit in units])
        super().__init__([number, unit])

    def decompress(self, value):
        return value or [None, None]


class QuantityField(forms.MultiValueField):
    """A rated value of a dimension with its unit, as `[value, unit]`; None if the value is empty."""

    def __init__(self, units, *, dimension, **options):
        self.dimension = dimension
        fields = [NumberField(required=False), forms.ChoiceField(choices=[(unit, unit) for unit in units])]
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
            raise ValidationError(quantities_in_words(problem.of(f"{value:g} {unit}"), current()))
        return [value, unit]
