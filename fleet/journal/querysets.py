"""Reports bulk writes to the open action. Single writes send signals, see fleet.journal.watching."""

from django.db import models

from fleet.journal.scope import open_scope

AT_ONCE = 500


class JournaledQuerySet(models.QuerySet):
    """The base of every covered model's manager; outside of actions it is an ordinary queryset."""

    def update(self, **kwargs):
        self._for_write = True
        scope = open_scope(self.db)
        if scope is None or not _covers(self.model, kwargs):
            return super().update(**kwargs)
        before = _states(self)
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
        if scope is not None and _covers(self.model):
            scope.note(self.model, dict.fromkeys(row.pk for row in created))
        return created


def _covers(model, fields=None):
    from fleet.journal.covered import covers  # imports all models, which use this class

    return covers(model, fields)


def _states(queryset):
    from fleet.journal.rows import states_of

    return states_of(queryset.order_by())
