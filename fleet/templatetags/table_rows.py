"""The rows of a table as markup: written here, since a template for each cell takes longer than the rest of a page."""

import inspect
from functools import cache

from django import template
from django.core.exceptions import FieldDoesNotExist, ObjectDoesNotExist
from django.db.models import Model
from django.template.base import render_value_in_context
from django.templatetags.l10n import localize, unlocalize
from django_tables2.columns import ManyToManyColumn
from django_tables2.columns.linkcolumn import BaseLinkColumn

from fleet.web.markup import format_html, format_html_join

register = template.Library()
OFFERED = {"value", "record", "column", "bound_column", "bound_row", "table"}  # by django-tables2, for a cell


@register.simple_tag(takes_context=True)
def table_rows(context, table):
    """Return a row for each record that the page of `table` shows, as its columns and its row attributes say."""
    cells = [_cell_function(context, table, column) for column in table.columns]
    rows = (
        (row.attrs.as_html(), format_html_join("", "{}", ((make(row),) for make in cells)))
        for row in table.paginated_rows
    )
    return format_html_join("\n", "<tr {}>{}</tr>", rows)


class SignedFunction:
    """A function that bears its signature, which django-tables2 works out anew for each cell otherwise."""

    def __init__(self, function):
        self.function, self.__signature__ = function, inspect.signature(function)

    def __call__(self, **values):
        return self.function(**values)


def _cell_function(context, table, column):
    """Return the function of a row that makes the cell of a column."""
    column.render = SignedFunction(column.render)
    is_fixed = _is_fixed(table, column)
    attributes = _attributes(column) if is_fixed else None
    value_of = _direct(table, column) if is_fixed else None

    def make(row):
        if value_of is not None and isinstance(row.record, Model):
            return format_html("<td {}>{}</td>", attributes, _shown(context, column, value_of(row)))
        column.current_value, column.current_record = row.get_cell(column.name), row.record
        there = attributes if is_fixed else _attributes(column)
        return format_html("<td {}>{}</td>", there, _shown(context, column, column.current_value))

    return make


def _direct(table, column):
    """Return the function of a row of a model that gives what the cell shows, as django-tables2 would in more steps.

    None for a column that reads more than one attribute of its record, or that makes links or takes whatever it is
    given.
    """
    wanted = column.render.__signature__.parameters
    name = str(column.accessor)
    if (
        column.link or isinstance(column.column, BaseLinkColumn | ManyToManyColumn) or not name.isidentifier()
        or "__" in name or not wanted.keys() <= OFFERED
    ):  # fmt: skip
        return None
    render, empty_values = column.render.function, column.column.empty_values

    def value_of(row):
        value = _value(row.record, name)
        if value in empty_values:
            return column.default
        offered = {
            "value": value, "record": row.record, "column": column.column, "bound_column": column, "bound_row": row,
            "table": table,
        }  # fmt: skip
        return render(**{one: offered[one] for one in wanted})

    return value_of


def _value(record, name):
    """Return an attribute of a record, in words for a choice; None where it has none."""
    try:
        value = getattr(record, _display(type(record), name))
    except (AttributeError, ObjectDoesNotExist):
        return None
    if not callable(value) or getattr(value, "do_not_call_in_templates", False):
        return value
    return None if getattr(value, "alters_data", False) else value()


@cache
def _display(model, name):
    """Return the name of what shows a field with choices in words, or the name itself."""
    try:
        has_choices = bool(getattr(model._meta.get_field(name), "choices", None))
    except FieldDoesNotExist:
        has_choices = False
    return f"get_{name}_display" if has_choices else name


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
