"""Rows of a query as values, where rows have the same days, moments and JSON: each of these is converted once."""

import json
from functools import lru_cache

from django.db import models

DAYS = (models.DateField, models.TimeField)  # a moment is a day to Django
KEPT = 10_000  # values of one column


def shared_values(queryset, *names, plain=None):
    """Yield the rows of `queryset.values_list(*names)` as lists. Equal values of a column may be one object.

    plain  function of a converted value of a column that holds days or moments, or that needs a conversion: what
           stands in the row instead
    """
    rows = queryset.values_list(*names)
    compiler = rows.query.get_compiler(using=rows.db)
    results = compiler.execute_sql(chunked_fetch=False)
    columns = [column for column, *_ in compiler.select]
    found = compiler.get_converters(columns)
    special = [
        (place, _converted(column, *found.get(place, ((), None)), compiler.connection, plain))
        for place, column in enumerate(columns)
        if place in found or (plain and isinstance(column.output_field, DAYS))
    ]
    for chunk in results:
        for row in chunk:
            values = list(row)
            for place, convert in special:
                values[place] = convert(values[place])
            yield values


def _converted(column, converters, expression, connection, plain):
    """Return a function of a value as the driver returns it. Only days, moments and JSON are kept: they are hashable."""
    def convert(value):
        for one in converters:
            value = one(value, expression, connection)
        return plain(value) if plain else value

    is_kept = isinstance(column.output_field, (*DAYS, models.JSONField))
    return lru_cache(KEPT)(convert) if is_kept else convert
