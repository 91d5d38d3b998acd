"""Figures and texts of the cover report."""

from django import template

from fleet.documents.phrases import lower_first, percent

register = template.Library()
register.filter("percent", percent)
register.filter("lower_first", lower_first)
