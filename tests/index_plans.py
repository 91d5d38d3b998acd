"""Which query uses an index, asked of the database's own plan."""

from django.apps import apps
from django.db import connection


def index_names(app):
    """The names of all indexes that the models of an app declare in their Meta."""
    return {index.name for model in apps.get_app_config(app).get_models() for index in model._meta.indexes}


def unused(queries):
    """The names in `queries` (index -> queryset) whose index the plan of the query does not use.

    PostgreSQL chooses by the size of the tables, which are empty in a test, so only SQLite is asked.
    """
    if connection.vendor != "sqlite":
        return set()
    return {name for name, queryset in queries.items() if name not in queryset.explain()}
