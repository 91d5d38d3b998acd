"""Bulk writes that the open action hears of. Single ones send signals, see fleet.acting.watching."""

from django.db import connections, models

from fleet.acting.covered import covers
from fleet.acting.rows import states_of
from fleet.acting.scope import open_scope

AT_ONCE = 500


class JournaledQuerySet(models.QuerySet):
    """The base of every covered model's manager; outside of actions it is an ordinary queryset."""

    def update(self, **kwargs):
        self._for_write = True
        scope = open_scope(self.db)
        if scope is None or not covers(self.model, kwargs):
            return super().update(**kwargs)
        before = states_of(self.order_by())
        scope.note(self.model, before)
        keys = list(before)
        # Filtered by key as well: a row that matches only now was not read before.
        return sum(
            super(JournaledQuerySet, self.filter(pk__in=keys[first : first + AT_ONCE])).update(**kwargs)
            for first in range(0, len(keys), AT_ONCE)
        )

    update.alters_data = True

    def bulk_create(self, objs, *args, **kwargs):
        created = super().bulk_create(objs, *args, **kwargs)
        self._note_created(row.pk for row in created)
        return created

    def insert_selected(self, names, selected):
        """Insert the rows of a query in the database itself; return their keys.

        names     fields of this model, in the order of the values; other columns hold NULL or their default
        selected  a queryset of values_list
        """
        sql, values = selected.query.get_compiler(using=self.db).as_sql()
        quoted = connections[self.db].ops.quote_name
        columns = ", ".join(quoted(self.model._meta.get_field(name).column) for name in names)
        with connections[self.db].cursor() as cursor:
            cursor.execute(
                f"INSERT INTO {quoted(self.model._meta.db_table)} ({columns}) {sql} "
                f"RETURNING {quoted(self.model._meta.pk.column)}",
                values,
            )
            keys = [key for (key,) in cursor.fetchall()]
        self._note_created(keys)
        return keys

    insert_selected.alters_data = True

    def _note_created(self, keys):
        scope = open_scope(self.db)
        if scope is not None and covers(self.model):
            scope.note(self.model, dict.fromkeys(keys))
