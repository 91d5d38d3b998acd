"""Rows of a query as values, where rows have the same days, moments and JSON: each of these is converted once."""

from functools import lru_cache
from itertools import chain

from django.db import models
from django.db.models.expressions import Col

DAYS = (models.DateField, models.TimeField)  # a moment is a day to Django
KEPT = 10_000  # values of one column
AT_ONCE = 1000  # rows


def shared_values(queryset, *names, plain=None, plain_column=None):
    """Return an iterable over the rows of `queryset.values_list(*names)`. Equal values of a column may be one object.

    plain         function of a converted value of a column that holds days or moments, or that needs a conversion:
                  what stands in the row instead
    plain_column  the same for all other columns, of the values of many rows
    """
    rows = queryset.values_list(*names)
    rows.query.select = tuple(_AsStored.of(column) for column in rows.query.select)
    compiler = rows.query.get_compiler(using=rows.db)
    results = compiler.execute_sql(chunk_size=AT_ONCE)
    columns = [column for column, *_ in compiler.select]
    needed = compiler.get_converters(columns)
    converted = {
        place: _converted(column, *needed.get(place, ((), None)), compiler.connection, plain)
        for place, column in enumerate(columns)
        if place in needed or (plain and isinstance(column.output_field, DAYS))
    }
    if not (converted or plain_column):
        return chain.from_iterable(results)
    return chain.from_iterable(_by_column(part, converted, plain_column) for part in results)


class _AsStored(Col):
    """A column of days or moments whose text SQLite's driver does not read: it would read that of every row."""

    @classmethod
    def of(cls, column):
        is_read = isinstance(column, Col) and isinstance(column.output_field, DAYS)
        return cls(column.alias, column.target, column.output_field) if is_read else column

    def as_sqlite(self, compiler, connection):
        sql, params = self.as_sql(compiler, connection)
        return f"CAST({sql} AS text)", params


def _by_column(rows, converted, plain_column):
    columns = list(zip(*rows, strict=True))  # a loop over columns, not over every value of every row
    for place, values in enumerate(columns):
        if place in converted:
            columns[place] = map(converted[place], values)
        elif plain_column:
            columns[place] = plain_column(values)
    return zip(*columns, strict=True)


def _converted(column, converters, expression, connection, plain):
    """Return a function of a value as the driver returns it. Days, moments and JSON are kept: they are hashable."""

    def convert(value):
        for one in converters:
            value = one(value, expression, connection)
        return plain(value) if plain else value

    is_kept = isinstance(column.output_field, (*DAYS, models.JSONField))
    return lru_cache(KEPT)(convert) if is_kept else convert
