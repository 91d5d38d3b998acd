"""Queries over the current state of machines. Filters and sorting have the same paths as those of machines."""

from django.db.models import F, Q
from django.db.models.lookups import Exact, GreaterThan

from fleet.catalogue.feature_bits import BIT
from fleet.models.querysets.among_keys import among
from fleet.models.querysets.machines import found_keys, known_as
from fleet.models.querysets.scoped import SiteScopedQuerySet

NEITHER = 0


class CurrentStateQuerySet(SiteScopedQuerySet):
    def not_retired(self):
        return self.exclude(status="retired")

    def with_feature(self, code, state, on):
        """Return those whose feature `code` is in `state`; not known includes never recorded.

        on  a day for which the rows hold (fleet/current_state/reading.py)
        """
        columns = {"fitted": "fitted", "not fitted": "not_fitted"}
        if state in columns:
            return self.filter(any_bit(columns[state], BIT[code]))
        return self.filter(*(Exact(F(column).bitand(BIT[code]), NEITHER) for column in columns.values()))

    def changed_since(self, day):
        """Return those of machines in use on a past `day` of which a safety feature changed since, in no order."""
        return self.filter(holds_from__gt=day, machine__in_use_from__lte=day).order_by()

    def found_by(self, text):
        """Return those whose asset number, serial, model or location contains `text`.

        What most of many machines have in common is the name of a model or a location: asked first, it spares a
        database the rest.
        """
        keys = found_keys(text)
        if keys is not None:
            return self.filter(among("pk", keys))
        return self.with_text(text, known_as(text))

    def with_text(self, text, known):
        """Keep those whose asset number or serial contains `text`, and those that fulfil `known`, unless it is None."""
        return self.filter(Q(searched__icontains=text) if known is None else known | Q(searched__icontains=text))


def any_bit(column, mask):
    """Return the condition that `column` has one of the bits of `mask`."""
    return GreaterThan(F(column).bitand(mask), 0)
