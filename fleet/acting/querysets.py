"""Bulk writes that the open action hears of. Single ones send signals, see fleet.acting.watching."""

from django.db import models

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
        scope = open_scope(self.db)
        if scope is not None and covers(self.model):
            scope.note(self.model, dict.fromkeys(row.pk for row in created))
        return created
