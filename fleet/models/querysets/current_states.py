"""Queries over the current state of machines."""

from django.db.models import F
from django.db.models.lookups import GreaterThan

from fleet.models.querysets.scoped import SiteScopedQuerySet


class CurrentStateQuerySet(SiteScopedQuerySet):
    def not_retired(self):
        return self.exclude(status="retired")

    def with_gap(self, mask):
        """Return those with a gap among the features of `mask`."""
        return self.filter(any_bit("gaps", mask))


def any_bit(column, mask):
    """Return the condition that `column` has one of the bits of `mask`."""
    return GreaterThan(F(column).bitand(mask), 0)
