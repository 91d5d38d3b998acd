"""Fields for numbers and days: both decimal signs in every form, and the day as the page writes it."""

from importlib import import_module
from pkgutil import walk_packages

import pytest
from django import forms

import fleet.forms
import inspections.forms
from fleet.forms.fields import BothSigns, DayField, NumberField, QuantityField
from fleet.place_format import NEUTRAL, PlaceFormat, using

COMMA = PlaceFormat(decimal=",", day="MM/DD/YYYY")


def form_classes():
    """Every form of the program, found by walking what forms inherit from."""
    for package in (fleet.forms, inspections.forms):
        for module in walk_packages(package.__path__, f"{package.__name__}."):
            import_module(module.name)
    found, waiting = set(), [forms.BaseForm]
    while waiting:
        for one in waiting.pop().__subclasses__():
            waiting.append(one)
            if one.__module__.startswith(("fleet.", "inspections.", "config.")):
                found.add(one)
    return found


def plain_fields(form):
    for name, field in getattr(form, "base_fields", {}).items():
        for each in (field, *getattr(field, "fields", ())):
            yield name, each


def test_every_field_for_numbers_with_decimals_reads_both_signs():
    classes = form_classes()
    assert len(classes) > 20
    deaf = {
        f"{form.__name__}.{name}"
        for form in classes
        for name, field in plain_fields(form)
        if isinstance(field, forms.FloatField | forms.DecimalField) and not isinstance(field, BothSigns)
    }
    assert deaf == set()


@pytest.mark.parametrize("place", [NEUTRAL, COMMA])
@pytest.mark.parametrize("typed", ["3.1", "3,1"])
def test_a_number_is_read_in_both_signs(place, typed):
    with using(place):
        assert NumberField().clean(typed) == 3.1
        assert QuantityField(["psi"], dimension="pressure").clean([typed, "psi"]) == [3.1, "psi"]


def test_a_number_with_two_meanings_is_refused_with_both():
    with pytest.raises(forms.ValidationError, match=r"can be read as 1\.234 or as 1234"):
        NumberField().clean("1,234")


def test_a_number_is_shown_in_the_sign_of_the_place():
    class Form(forms.Form):
        number = NumberField(initial=3.1)
        rated = QuantityField(["psi"], dimension="pressure", initial=[2.5, "psi"])

    with using(COMMA):
        html = str(Form())
    assert 'value="3,1"' in html and 'value="2,5"' in html
    assert not Form({"number": "3,1", "rated_0": "2,5", "rated_1": "psi"}).has_changed()


def test_a_date_field_sends_iso_8601_and_shows_the_day_as_the_page_writes_it():
    class Form(forms.Form):
        day = DayField(initial="2026-11-02")

    with using(COMMA):
        html = str(Form())
        assert Form({"day": "11/02/2026"}).fields["day"].clean("11/02/2026").isoformat() == "2026-11-02"
    assert 'value="2026-11-02"' in html and 'data-pattern="m/d/Y">11/02/2026<' in html
