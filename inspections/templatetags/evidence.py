"""Shares and rates of the evidence behind an interval, as pages write them."""

from math import isfinite

from django import template

from fleet.drawing import number

register = template.Library()
UNBOUNDED = "not bounded"


@register.filter
def percent_of_time(share):
    """A share from 0 to 1 as a percentage to three figures; “not bounded” where nothing bounds it."""
    return UNBOUNDED if share is None or not isfinite(share) else f"{_figures(100 * share)} %"


@register.filter
def rate_words(rate):
    """A rate a year to three figures; “not bounded” where nothing bounds it."""
    return UNBOUNDED if rate is None or not isfinite(rate) else _figures(rate)


def _figures(value):
    return number(float(f"{value:.3g}"))
