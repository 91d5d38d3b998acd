"""Store who, when, before and after of every change. Actions call this; nothing else writes a ChangeEntry.

A model is tracked once, where its app starts. `recording` compares the row in the database before and after what is
done inside it, so that a filtered update, a save and a many-to-many set are all recorded alike. What a program does
with a token of the person `by` names that `token`.
"""

from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from operator import attrgetter

from django.db import models, transaction

from fleet.acting.scope import acting, journaled
from fleet.models import ChangeEntry

CREATE_BATCH = 500


@dataclass(frozen=True)
class Tracked:
    """How the changes of one model are recorded.

    kind        name of the record in addresses, such as "machine"
    fields      names of the fields that are compared, many-to-many ones among them
    record      path to the record on whose page a change of this row is shown; empty if it is the record itself
    readers     label -> function of a row that returns further content fit for JSON
    permission  needed to read the changes, in addition to the record; empty for rows that are shown with their record
    """

    model: type
    kind: str
    fields: tuple
    record: str = ""
    readers: dict = field(default_factory=dict)
    permission: str = ""

    @property
    def label(self):
        return self.model._meta.label_lower


_by_model = {}


def track(model, kind, *fields, record="", readers=None, permission=""):
    _by_model[model] = Tracked(model, kind, fields, record, readers or {}, permission)


def tracked_models():
    return dict(_by_model)


def tracked_record(kind):
    """Return how the record called `kind` is tracked, or None."""
    return next((one for one in _by_model.values() if one.kind == kind and not one.record), None)


def changes_of(kind, pk):
    """Return every change of a record and of the rows shown with it, the newest first."""
    return ChangeEntry.objects.filter(record=kind, record_pk=pk).select_related("by", "token")


@contextmanager
def recording(*rows, by, at, token=None):
    """Lock the rows, let the body change them, and store an entry for each that differs afterwards."""
    with acting("recording", by=by and by.pk, at=at), transaction.atomic():
        before = [_values(_held(row)) for row in rows]
        yield
        words = _Words()
        for row, old in zip(rows, before, strict=True):
            fresh = row.__class__._base_manager.get(pk=row.pk)
            new = _values(fresh)
            changed = [name for name in new if new[name] != old[name]]
            if changed:
                entry = _entry(fresh, by=by, at=at, token=token)
                entry.before = {words.label(row, n): words.of(fresh, n, old[n]) for n in changed}
                entry.after = {words.label(row, n): words.of(fresh, n, new[n]) for n in changed}
                entry.save()


@journaled
def record_created(rows, *, by, at, token=None):
    """Store an entry for each new row with all its values."""
    words = _Words()
    entries, rows = [], list(rows)
    linked = _linked_keys(rows)
    for row in rows:
        entry = _entry(row, by=by, at=at, token=token)
        given = {name: value for name, value in _values(row, linked).items() if value not in (None, "", [], {})}
        entry.after = {words.label(row, name): words.of(row, name, value) for name, value in given.items()}
        entries.append(entry)
    ChangeEntry.objects.bulk_create(entries, batch_size=CREATE_BATCH)


def correction_entries(corrections, *, by, at):
    """Return the unsaved entries of rows that are about to get new values; the caller writes both together.

    corrections  pairs of a row and the new values of its plain fields, by name
    """
    words, entries = _Words(), []
    for row, fields in corrections:
        changed = copy(row)
        for name, value in fields.items():
            setattr(changed, name, value)
        entry = _entry(row, by=by, at=at)
        for name in fields:
            label, model_field = words.label(row, name), row._meta.get_field(name)
            entry.before[label] = words.of(row, name, _value(row, model_field))
            entry.after[label] = words.of(changed, name, _value(changed, model_field))
        entries.append(entry)
    return entries


@journaled
def record_change(row, *, by, at, before, after, about="", token=None):
    """Store an entry with the caller's text, for content that is no field of the row; none if nothing differs."""
    if before != after:
        entry = _entry(row, by=by, at=at, token=token)
        entry.about, entry.before, entry.after = about or entry.about, before, after
        entry.save()


def _held(row):
    return row.__class__._base_manager.select_for_update(no_key=True).get(pk=row.pk)


def _entry(row, *, by, at, token=None):
    tracked = _by_model[row.__class__]
    record = attrgetter(tracked.record)(row) if tracked.record else row
    return ChangeEntry(
        record=_by_model[record.__class__].kind,
        record_pk=record.pk,
        row=tracked.label,
        row_pk=row.pk,
        about=f"{row._meta.verbose_name} {row}"[:200] if tracked.record else "",
        by=by,
        at=at,
        token=token,
    )


def _linked_keys(rows):
    """Return the sorted many-to-many keys of rows by model, row and field; one query for each field."""
    found = {}
    for model in {row.__class__ for row in rows}:
        keys = [row.pk for row in rows if row.__class__ is model]
        for name in _by_model[model].fields:
            if model._meta.get_field(name).many_to_many:
                found |= {(model, pk, name): [] for pk in keys}
                pairs = model._base_manager.filter(pk__in=keys, **{f"{name}__isnull": False})
                for pk, other in pairs.order_by(f"{name}__pk").values_list("pk", f"{name}__pk"):
                    found[model, pk, name].append(other)
    return found


def _values(row, linked=None):
    """Return the tracked content of a row: foreign keys as keys, many-to-many as sorted keys, else JSON values.

    linked  many-to-many keys that were read for many rows at once, as _linked_keys returns them
    """
    tracked = _by_model[row.__class__]
    values = {
        name: linked[row.__class__, row.pk, name]
        if linked and (row.__class__, row.pk, name) in linked
        else _value(row, row._meta.get_field(name))
        for name in tracked.fields
    }
    return values | {label: read(row) for label, read in tracked.readers.items()}


def _value(row, model_field):
    if model_field.many_to_many:
        return sorted(getattr(row, model_field.name).values_list("pk", flat=True))
    value = getattr(row, model_field.attname)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


class _Words:
    """The names of keys and the labels of fields, each read once."""

    def __init__(self):
        self.known, self.labels = {}, {}

    def label(self, row, name):
        if name in _by_model[row.__class__].readers:
            return name
        key = row.__class__, name
        if key not in self.labels:
            label = str(row._meta.get_field(name).verbose_name)
            self.labels[key] = label[:1].upper() + label[1:]
        return self.labels[key]

    def of(self, row, name, value):
        if name in _by_model[row.__class__].readers or value is None:
            return value
        model_field = row._meta.get_field(name)
        if not model_field.is_relation:
            return value
        if model_field.many_to_many:
            return [self.name(model_field.related_model, pk) for pk in value]
        if not isinstance(model_field, models.ForeignKey):
            return value
        if (model_field.related_model, value) not in self.known:
            related = row._state.fields_cache.get(name)
            if related is not None and related.pk == value:
                self.known[model_field.related_model, value] = str(related)
        return self.name(model_field.related_model, value)

    def name(self, model, pk):
        if (model, pk) not in self.known:
            found = model._base_manager.filter(pk=pk).first()
            self.known[model, pk] = str(found) if found else f"{model._meta.verbose_name} {pk}, deleted later"
        return self.known[model, pk]
