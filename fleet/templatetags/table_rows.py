"""The rows of a table as markup: written here, since a template for each cell takes longer than the rest of a page."""

import inspect

from django import template
from django.template.base import render_value_in_context
from django.templatetags.l10n import localize, unlocalize
from django.utils.html import format_html_join

register = template.Library()


@register.simple_tag(takes_context=True)
def table_rows(context, table):
    """Return a row for each record that the page of `table` shows, as its columns and its row attributes say."""
    fixed = {}
    for column in table.columns:
        column.render = SignedFunction(column.render)
        if _is_fixed(table, column):
            fixed[column.name] = _attributes(column)
    rows = ((row.attrs.as_html(), _cells(context, row, fixed)) for row in table.paginated_rows)
    return format_html_join("\n", "<tr {}>{}</tr>", rows)


class SignedFunction:
    """A function that bears its signature, which django-tables2 works out anew for each cell otherwise."""

    def __init__(self, function):
        self.function, self.__signature__ = function, inspect.signature(function)

    def __call__(self, **values):
        return self.function(**values)


def _cells(context, row, fixed):
    cells = (
        (fixed[column.name] if column.name in fixed else _attributes(column), _shown(context, column, cell))
        for column, cell in row.items()
    )
    return format_html_join("", "<td {}>{}</td>", cells)


def _attributes(column):
    return column.attrs["td"].as_html()


def _is_fixed(table, column):
    """Whether the attributes of the cells of a column are the same in each row: none is computed from its record."""
    return not _computed(table.attrs) and not _computed(column.column.attrs)


def _computed(attributes):
    return callable(attributes) or (isinstance(attributes, dict) and any(map(_computed, attributes.values())))


def _shown(context, column, cell):
    if column.localize is not None:
        cell = localize(cell) if column.localize else unlocalize(cell)
    return render_value_in_context(cell, context)
