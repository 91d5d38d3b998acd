"""A value of a change entry in words."""

import re
from datetime import date, datetime

from django import template
from django.utils import timezone

from fleet.templatetags.place import date as day_filter
from fleet.templatetags.place import number
from fleet.web.at_site import day_words

register = template.Library()
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}.*")


@register.filter
def told(value):
    """Return the text: dates as on every page, lists and pairs in a row, yes and no; a dash for an empty value."""
    if value is None or value == "" or value == [] or value == {}:
        return "—"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "; ".join(f"{name}: {told(part)}" for name, part in value.items())
    if isinstance(value, list):
        return ", ".join(told(part) for part in value)
    return _day_or_text(value)


def _day_or_text(value):
    try:
        if isinstance(value, str) and DAY.fullmatch(value):
            return day_words(date.fromisoformat(value))
        if isinstance(value, str) and MOMENT.fullmatch(value):
            return day_filter(timezone.localtime(datetime.fromisoformat(value)), "j M Y, H:i")
    except ValueError:
        pass  # a text that only looks like a date
    return number(value) if isinstance(value, float) else str(value)
