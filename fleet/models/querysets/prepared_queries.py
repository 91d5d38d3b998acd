"""Queries that are compiled once and then asked with other values.

Django puts a query together and compiles it each time that it is asked, which for a few rows takes far longer than the
database does. Where a person waits for each answer, write the query as a function of the values in it:

    @prepared
    def current_of_step(step):
        return Reading.objects.current().filter(step=step)

    current_of_step(step.pk)  # a list

The function is called once for each connection, with places instead of values. It may pass them to filters, and not
look at them: a query that has another form for another value is two prepared queries. Nor may its form depend on
anything else that changes, such as the time zone of the page.
"""

import inspect
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime
from functools import update_wrapper

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import QuerySet, Value
from django.db.models.sql.compiler import SQLCompiler

ATTRIBUTE = "prepared_queries"  # of a connection: what was compiled for it, which ends with it


def prepared(build):
    """Return the query that `build` returns as a PreparedQuery. For a decorator."""
    return PreparedQuery(build)


class PreparedQuery:
    """A query as a function of its values, in their order, which returns the rows as a list.

    Values are whole numbers, truths, texts, days and moments. Raise TypeError for any other, None among them, and
    ValueError for one too many or too few.
    """

    def __init__(self, build):
        update_wrapper(self, build)
        self.names = tuple(inspect.signature(build).parameters)

    def __call__(self, *values):
        given = dict(zip(self.names, values, strict=True))
        connection = connections[DEFAULT_DB_ALIAS]
        known = vars(connection).setdefault(ATTRIBUTE, {})
        if self not in known:
            known[self] = _compile(self.__wrapped__(*map(Place, self.names)), connection)
        return known[self].rows(given)


class Place(Value):
    """The place of a value in a prepared query; `value` is its name."""

    def as_sql(self, compiler, connection):
        return "%s", [self]


@dataclass(frozen=True, slots=True)
class _Compiled:
    """A queryset as compiled for one connection; `params` are its own values and the places of those to come."""

    queryset: QuerySet
    compiler: SQLCompiler
    sql: str
    params: tuple

    def rows(self, given):
        """Return the rows for the values by name."""
        values = {name: _as_sent(name, value, self.compiler.connection.ops) for name, value in given.items()}
        params = tuple(values[one.value] if isinstance(one, Place) else one for one in self.params)
        ready = copy(self.compiler)
        ready.as_sql = lambda *_, **__: (self.sql, params)
        asked = self.queryset.all()  # which is evaluated here, and never narrowed
        asked.query.get_compiler = lambda *_, **__: ready
        return list(asked)


def _compile(queryset, connection):
    """Compile a queryset. What Django finds out for each row that it reads is found once as well."""
    compiler = queryset.query.get_compiler(connection=connection)
    sql, params = compiler.as_sql()
    converters = compiler.get_converters([column for column, *_ in compiler.select])
    compiler.get_converters = lambda _: converters
    return _Compiled(queryset, compiler, sql, tuple(params))


def _as_sent(name, value, operations):
    if isinstance(value, datetime):
        return operations.adapt_datetimefield_value(value)
    if isinstance(value, date):
        return operations.adapt_datefield_value(value)
    if not isinstance(value, (int, str)):
        raise TypeError(f"{name} must be a whole number, a text, a day or a moment, got {value!r}")
    return value
