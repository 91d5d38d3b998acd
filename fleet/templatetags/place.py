"""Numbers, days and quantities as the place that is shown now writes them; in every template without a load tag.

`date` and `floatformat` replace Django's filters of these names, which follow the language and not the place.
"""

from django import template
from django.template import defaultfilters

from fleet.place_format import (
    DAY_STYLES,
    counted,
    current,
    number_text,
    quantities_in_words,
    rounded_quantity,
    with_decimal_sign,
)
from fleet.place_format.days import DEFAULT_STYLE

register = template.Library()
USUAL = DAY_STYLES[DEFAULT_STYLE]


def place_pattern(pattern):
    """Return a pattern of the date filter with its day as the place writes it; “Y-m-d”, “c” and times stay."""
    style = DAY_STYLES[current().day]
    if not pattern:
        return style.pattern
    return pattern.replace(USUAL.pattern, style.pattern) if USUAL.pattern in pattern else _short(pattern, style)


def _short(pattern, style):
    return pattern.replace(USUAL.short, style.short)


@register.filter("date", expects_localtime=True, is_safe=False)
def date(value, pattern=None):
    """A day, or a moment in the current time zone."""
    return defaultfilters.date(value, place_pattern(pattern))


@register.filter("floatformat", is_safe=True)
def floatformat(value, arg=-1):
    """A number with a fixed count of decimals."""
    return with_decimal_sign(defaultfilters.floatformat(value, arg), current().decimal)


@register.filter
def intcomma(value):
    """A count with its thousands parted, as humanize does, but by a space beside a decimal comma."""
    return counted(value) if isinstance(value, int) else value


@register.filter
def number(value):
    """A number with the digits that it has; what is no number stays."""
    if isinstance(value, bool) or not hasattr(value, "__float__"):
        return value
    return number_text(value, current().decimal)


@register.filter
def as_read(text):
    """The digits of a reading as they were typed, with the decimal sign of the place."""
    return with_decimal_sign(str(text), current().decimal)


@register.filter
def quantities(sentence):
    """A sentence that the program made, its numbers with the decimal sign of the place."""
    return quantities_in_words(str(sentence), current())


@register.filter
def numbers_in_words(words):
    """Words that hold numbers and nothing else with a point, such as “0.5 % of reading + 0.1”."""
    return with_decimal_sign(str(words), current().decimal)


@register.filter
def in_unit(value, unit):
    """A quantity to one decimal, in the preferred unit of the place."""
    return rounded_quantity(value, unit, 1, current())


@register.filter
def day_pattern(_):
    """The pattern in which the script of a date field writes the day beside it."""
    return DAY_STYLES[current().day].pattern
