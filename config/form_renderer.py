"""How forms become markup: by Django's templates, but for lists to choose from, which have hundreds of options."""

from django.forms.renderers import TemplatesSetting
from django.utils.formats import localize

from fleet.web.markup import format_html, format_html_join

SELECT = "django/forms/widgets/select.html"
NOTHING = format_html_join("", "{}", ())
OPTION = "django/forms/widgets/select_option.html"


class FormRenderer(TemplatesSetting):
    """As Django's, but a select is written here: a template for each option takes longer than the rest of a page.

    The markup is that of Django's templates, character by character; a test compares the two.
    """

    def render(self, template_name, context, request=None):
        if template_name == SELECT and _is_plain(context["widget"]):
            return _select(context["widget"])
        return super().render(template_name, context, request)


def _is_plain(widget):
    return all(option["template_name"] == OPTION for _, options, _ in widget["optgroups"] for option in options)


def _select(widget):
    groups = format_html_join("", "{}", ((_group(name, options),) for name, options, _ in widget["optgroups"]))
    return format_html('<select name="{}"{}>{}\n</select>', widget["name"], _attributes(widget["attrs"]), groups)


def _group(name, options):
    written = format_html_join("", '\n  <option value="{}"{}>{}</option>\n', map(_option, options))
    return format_html('\n  <optgroup label="{}">{}\n  </optgroup>', localize(name), written) if name else written


def _option(option):
    return str(option["value"]), _attributes(option["attrs"]), localize(option["label"])


def _attributes(attributes):
    """Return the attributes that are not False; one that is True has no value."""
    if not attributes:
        return NOTHING
    told = [(name, value) for name, value in attributes.items() if value is not False]
    written = (
        (format_html(" {}", name) if value is True else format_html(' {}="{}"', name, str(value)),)
        for name, value in told
    )
    return format_html_join("", "{}", written)
