"""Rows as plain values, read in the same way for journaling and verification, on both databases."""

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from functools import lru_cache

from django.core.exceptions import EmptyResultSet
from django.db import connections, models
from django.db.models import TextField
from django.db.models.functions import Cast

from fleet.acting.covered import columns_of
from fleet.acting.keys import conditions_on
from fleet.acting.shared_values import CompiledValues
from fleet.canonical import canonical_json, digest_of

LONGEST = 200  # longest text that is stored as it is; of longer ones the digest is stored
KEPT = 5000
PLAIN = frozenset((int, bool, type(None)))  # types of values that stay as they are
TEXT = frozenset((str, type(None)))  # of these, texts that are not too long stay as well

COMPILED = "compiled_journal_rows"  # attribute of a connection, which ends with it
FIRST, LAST = -1, -2  # stand in a compiled query where its first and last key go
UNREADABLE = (ValueError, TypeError, OverflowError, InvalidOperation)


def states_of(rows, columns=None):
    """Map the key of each row of a queryset to its values, in the order of `columns`; all covered columns if None."""
    columns = columns_of(rows.model) if columns is None else columns
    try:
        return _with_many(rows, columns, _reading(rows, columns).states())
    except EmptyResultSet:
        return {}
    except UNREADABLE:  # a value that the column cannot hold was written without Django
        return _with_many(rows, columns, _reading(rows, columns, is_text=True).states())


def read_states(model, keys, using):
    """Return the states of the rows with these keys; a missing row has none."""
    found = {}
    for condition in conditions_on("pk", keys):
        rows = model._base_manager.using(using).filter(**condition)
        found |= _of_range(rows, *condition.values()) if len(condition) == 2 else states_of(rows)
    return found


def _of_range(rows, first, last):
    """Return the states of `rows`, those with keys from first to last, such as one row: a query compiled only once."""
    model, columns = rows.model, columns_of(rows.model)
    known = vars(connections[rows.db]).setdefault(COMPILED, {})
    if (model, columns) not in known:
        rows_of_range = model._base_manager.using(rows.db).filter(pk__gte=FIRST, pk__lte=LAST)
        known[model, columns] = _reading(rows_of_range, columns)
    reading = known[model, columns]
    params = [{FIRST: first, LAST: last}[one] for one in reading.compiled.params]
    try:
        return _with_many(rows, columns, reading.states(params))
    except UNREADABLE:
        return states_of(rows)


def _reading(rows, columns, *, is_text=False):
    """Return how columns are read. JSON is read as text; all but the key as text where Django cannot read a value."""
    fields = [_field(rows.model, name) for name in columns if not _is_many(rows.model, name)]
    as_json = [place for place, field in enumerate(fields) if isinstance(field, models.JSONField)]
    as_text = range(1, len(fields)) if is_text else as_json
    rows = rows.annotate(**{f"journal_{fields[at].attname}": Cast(fields[at].attname, TextField()) for at in as_text})
    names = [f"journal_{one.attname}" if place in as_text else one.attname for place, one in enumerate(fields)]
    return _Reading(CompiledValues(rows, *names, plain=plain_value, plain_column=_plain_column), as_json)


@dataclass(frozen=True, slots=True)
class _Reading:
    """The compiled query of the columns of a table, and the places of those with JSON."""

    compiled: CompiledValues
    as_json: list[int]

    def states(self, params=None):
        found = {}
        for values in self.compiled.rows(params):
            found[values[0]] = state = list(values)
            for place in self.as_json:
                state[place] = _json_value(values[place])
        return found


def _with_many(rows, columns, found):
    """Add to the states the many-to-many fields, whose names come last among the columns."""
    for name in columns:
        if _is_many(rows.model, name):
            _add_many(rows, rows.model, name, found)
    return found


def _field(model, column):
    return next(field for field in model._meta.concrete_fields if field.column == column)


def _is_many(model, name):
    return any(field.name == name for field in model._meta.many_to_many)


def _add_many(rows, model, name, found):
    """Add to each state the keys that the row has in a many-to-many field, in their order."""
    field = model._meta.get_field(name)
    own, other = field.m2m_field_name(), field.m2m_reverse_field_name()
    through = field.remote_field.through._base_manager.using(rows.db).filter(**{f"{own}__in": list(found)})
    many = {}
    for pk, key in through.order_by(f"{other}_id").values_list(f"{own}_id", f"{other}_id"):
        many.setdefault(pk, []).append(key)
    for pk, state in found.items():
        state.append(many.get(pk, []))


def _plain_column(values):
    """Return the values of one column of many rows as plain values; nearly all are plain, which is asked of all."""
    types = set(map(type, values))
    if types <= PLAIN or (types <= TEXT and max(map(len, filter(None, values)), default=0) <= LONGEST):
        return values
    return map(plain_value, values)


def plain_value(value):
    """Return a JSON value: moments as ISO text in UTC, dates as ISO text, decimals as text, long texts as digest."""
    if value is None or isinstance(value, int):
        return value
    if isinstance(value, str):
        return _shortened(value)
    if isinstance(value, date):
        return _day_or_moment(value)
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, float) and not -1e300 < value < 1e300:
        return repr(value)  # JSON has no infinities and no NaN
    return value


@lru_cache(KEPT)
def _day_or_moment(value):
    """Return a date or a moment as text; cached, because the rows of one action share them."""
    return value.astimezone(UTC).isoformat() if isinstance(value, datetime) else value.isoformat()


@lru_cache(KEPT)
def _json_value(text):
    """Convert a JSON column; cached, because steps and feature states repeat."""
    if text is None:
        return None
    try:
        return _shortened(canonical_json(json.loads(text)))
    except ValueError:
        return f"not JSON, SHA-256 {digest_of(text)}"


def _shortened(text):
    return text if len(text) <= LONGEST else f"SHA-256 {digest_of(text)} of {len(text)} characters"
