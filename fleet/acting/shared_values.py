"""Rows of a query as values, where rows have the same days, moments and JSON: each of these is converted once."""

from functools import lru_cache
from itertools import chain

from django.core.exceptions import EmptyResultSet
from django.db import connections, models
from django.db.models.expressions import Col

DAYS = (models.DateField, models.TimeField)  # a moment is a day to Django
KEPT = 1000  # values of one column
AT_ONCE = 1000  # rows


def shared_values(queryset, *names, **plain):
    """Return an iterable over the rows of `queryset.values_list(*names)`. Equal values of a column may be one object.

    plain  as CompiledValues takes it
    """
    try:
        return CompiledValues(queryset, *names, **plain).rows()
    except EmptyResultSet:
        return []


class CompiledValues:
    """A query of values as compiled for its connection, to be asked once or with other parameters.

    params        of the statement, as compiled
    plain         function of a converted value of a column that holds days or moments, or that needs a conversion:
                  what stands in the row instead
    plain_column  the same for all other columns, of the values of many rows
    """

    def __init__(self, queryset, *names, plain=None, plain_column=None):
        rows = queryset.values_list(*names)
        rows.query.select = tuple(_AsStored.of(column) for column in rows.query.select)
        self.connection, self.plain_column = connections[rows.db], plain_column
        compiler = rows.query.get_compiler(connection=self.connection)
        self.sql, self.params = compiler.as_sql()
        columns = [column for column, *_ in compiler.select]
        needed = compiler.get_converters(columns)
        self.converted = {
            place: _converted(column, *needed.get(place, ((), None)), self.connection, plain)
            for place, column in enumerate(columns)
            if place in needed or (plain and isinstance(column.output_field, DAYS))
        }

    def rows(self, params=None):
        with self.connection.cursor() as cursor:
            cursor.execute(self.sql, self.params if params is None else params)
            results = list(iter(lambda: cursor.fetchmany(AT_ONCE), []))
        if not (self.converted or self.plain_column):
            return chain.from_iterable(results)
        return chain.from_iterable(map(self._by_column, results))

    def _by_column(self, rows):
        columns = list(zip(*rows, strict=True))  # a loop over columns, not over every value of every row
        for place, values in enumerate(columns):
            if place in self.converted:
                columns[place] = map(self.converted[place], values)
            elif self.plain_column:
                columns[place] = self.plain_column(values)
        return zip(*columns, strict=True)


class _AsStored(Col):
    """A column of days or moments whose text SQLite's driver does not read: it would read that of every row."""

    @classmethod
    def of(cls, column):
        is_read = isinstance(column, Col) and isinstance(column.output_field, DAYS)
        return cls(column.alias, column.target, column.output_field) if is_read else column

    def as_sqlite(self, compiler, connection):
        sql, params = self.as_sql(compiler, connection)
        return f"CAST({sql} AS text)", params


def _converted(column, converters, expression, connection, plain):
    """Return a function of a value as the driver returns it. Days, moments and JSON are kept: they are hashable."""

    def convert(value):
        for one in converters:
            value = one(value, expression, connection)
        return plain(value) if plain else value

    is_kept = isinstance(column.output_field, (*DAYS, models.JSONField))
    return lru_cache(KEPT)(convert) if is_kept else convert
