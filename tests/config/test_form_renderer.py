import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.functional import lazystr

from config.form_renderer import FormRenderer

CHOICES = {
    "none": [],
    "flat": [("", "All"), ("a", "Theatre & bay <1>"), (1, 2), (1.5, 1234.5), (None, "not known"), ("q\"'", "quotes")],
    "grouped": [("", "All"), ("A & B", [("x", "One"), ("y", "Two <b>")]), ("None in it", []), (3, [("z", "Three")])],
    "lazy": [("a", lazystr("Lazy <i>"))],
}


class Marked(forms.Select):
    """One option has attributes of its own: without a value, with one, and one that is left out."""

    def create_option(self, name, value, *args, **kwargs):
        option = super().create_option(name, value, *args, **kwargs)
        if value == "a":
            option["attrs"] |= {"disabled": True, "data-of": 'x"y', "hidden": False}
        return option


@pytest.mark.parametrize("choices", CHOICES.values(), ids=CHOICES)
@pytest.mark.parametrize("value", ["", "a", "x", 1, ["a", "z"]])
@pytest.mark.parametrize("widget", [forms.Select, forms.SelectMultiple, Marked])
def test_a_list_to_choose_from_is_written_as_by_the_templates_of_django(choices, value, widget):
    attrs = {"id": "id_n", "class": 'a"b', "required": True, "data-left-out": False}
    one = widget(choices=choices)
    ours, theirs = (one.render("n<", value, attrs, renderer=each) for each in (FormRenderer(), TemplatesSetting()))
    assert ours == theirs


def test_another_template_of_options_is_used():
    class Own(forms.Select):
        option_template_name = "django/forms/widgets/input_option.html"

    own = Own(choices=[("a", "A")])
    assert own.render("n", "a", renderer=FormRenderer()) == own.render("n", "a", renderer=TemplatesSetting())
