"""Applies the rule of fleet/characters.py to the text fields of every form."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.characters import refusal_of


def refuse_unprintable(value):
    reason = refusal_of(str(value))
    if reason:
        raise ValidationError(reason, code="unprintable")


def guard_every_text_field():
    """Add the rule to Django's text field and its subclasses, so that no form can omit it."""
    for field in (forms.CharField, *_kinds_of(forms.CharField)):
        if refuse_unprintable not in field.default_validators:
            field.default_validators = [*field.default_validators, refuse_unprintable]


def _kinds_of(field):
    for kind in field.__subclasses__():
        yield kind
        yield from _kinds_of(kind)
