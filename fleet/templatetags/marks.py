"""The look of a word, in every template without a load tag."""

from django import template
from django.utils.text import slugify

from fleet.drawing.marks import mark_name

register = template.Library()


@register.filter
def mark_class(word):
    """Return the class whose mark stands before a word: “pass” for “Pass, limit not confirmed”."""
    return slugify(mark_name(str(word)))
