"""Which query uses an index, asked of the database's own plan."""

from django.apps import apps
from django.db import connection


def index_names(app):
    """The names of all indexes that the models of an app declare in their Meta."""
    return {index.name for model in apps.get_app_config(app).get_models() for index in model._meta.indexes}


def plan_of(queryset):
    """The plan of a query as text. PostgreSQL would read a small table whole, so that is forbidden here."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
    return queryset.explain()
