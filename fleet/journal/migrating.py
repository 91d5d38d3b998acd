"""Journal what migrations write. Alterations from before the journal began cannot be detected.

Before the first migration of a run the tables are compared with the journal; afterwards every row that differs now but
did not before is journaled as found. So a migration may write rows and add columns, and cannot hide an alteration. The
groups are written after every run (config/groups.py), so they are compared even when there is nothing to migrate.
"""

from functools import cache

from django.apps import apps
from django.contrib.auth.models import Group
from django.db import connections, transaction

from fleet.acting.covered import columns_of, covered_models
from fleet.acting.rows import read_states
from fleet.journal.comparing import Comparison
from fleet.journal.writing import FOUND, MOST_ENTRIES, add_links
from fleet.models import JournalEntry, JournalHead, JournalLink

_differed = {}


def before_migrations(sender, using, plan=(), **kwargs):
    """Store which rows differ from the journal before anything is migrated."""
    if sender.label != _with_models()[0].label:
        return
    there = _columns_there(using, plan)
    if not _has_journal(there):
        return
    models = [model for model in _models_of(plan) if there[model]]
    found = Comparison(using, columns=there.__getitem__).run(models)
    _differed[using] = {(one.table, one.row) for one in found}


def after_migrations(sender, using, plan=(), **kwargs):
    """Journal what was found or changed, after the last app was migrated."""
    if sender.label != _with_models()[-1].label:
        return
    there, differed = _columns_there(using, plan), _differed.pop(using, set())
    if not _has_journal(there) or any(there[model] != columns_of(model) for model in covered_models()):
        return  # migrated backwards, or not to the newest migration
    if JournalLink.objects.using(using).exists():
        follow(using, _models_of(plan), passing_over=differed)
    else:
        follow(using)


def follow(using, models=None, *, passing_over=frozenset()):
    """Journal every row that differs from the journal, except those given by table and key. Safe to repeat."""
    with transaction.atomic(using=using):  # in one transaction: the next call comes only after the next migration
        for model in covered_models() if models is None else models:
            _follow_model(model, using, passing_over)


def _follow_model(model, using, passing_over):
    differences = Comparison(using, strict_layouts=True).run([model])
    keys = list(dict.fromkeys(one.row for one in differences if (one.table, one.row) not in passing_over))
    for first in range(0, len(keys), MOST_ENTRIES):
        states = read_states(model, part := keys[first : first + MOST_ENTRIES], using)
        entries = [(model, pk, states.get(pk)) for pk in part]
        add_links(entries, {"action": "migrate", "by": None, "at": None, "mode": FOUND}, using=using)


def _models_of(plan):
    return covered_models() if plan else (Group,)


def _has_journal(there):
    return all(there[model] for model in (JournalHead, JournalLink, JournalEntry))


def _columns_there(using, plan):
    """Map every covered model and those of the journal to the columns of its table; none without a table.

    Without a plan no migration is pending, so an existing table has all its columns.
    """
    connection, models = connections[using], (*covered_models(), JournalHead, JournalLink, JournalEntry)
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        if not plan:
            return {model: columns_of(model) if model._meta.db_table in tables else () for model in models}

        @cache
        def names(table):
            if table not in tables:
                return set()
            return {one.name for one in connection.introspection.get_table_description(cursor, table)}

        return {model: _columns_in(model, names) for model in models}


def _columns_in(model, names):
    """Return the columns of `columns_of` that exist in the model's tables."""
    there = {field.column for field in model._meta.concrete_fields if field.column in names(model._meta.db_table)}
    there |= {field.name for field in model._meta.many_to_many if names(field.remote_field.through._meta.db_table)}
    return tuple(name for name in columns_of(model) if name in there)


def _with_models():
    return [config for config in apps.get_app_configs() if config.models_module is not None]
