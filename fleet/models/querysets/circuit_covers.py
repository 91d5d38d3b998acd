"""Queries about computed cover tables."""

from django.db import models
from django.db.models import Count, Min, Q

from fleet.models.querysets.scoped import MachineRowQuerySet

BULKY = ("table", "shown", "closing")


class CircuitCoverQuerySet(models.QuerySet):
    def without_table(self):
        """Defer the columns that only the page of the table reads."""
        return self.defer(*BULKY)

    def computed_by(self, rules):
        return self.filter(rules=rules)

    def unused_since(self, moment):
        """Return the covers that no machine uses any more and that were computed before `moment`."""
        return self.filter(machines=None, computed_at__lt=moment)


class MachineCoverQuerySet(MachineRowQuerySet):
    def computed(self):
        return self.filter(cover__isnull=False)

    def of_machines(self, machines):
        """Return the covers of the machines of a queryset."""
        return self.filter(machine__in=machines.order_by().values("pk"))

    def open_by_area(self):
        """Return (area, hazard, machines, with a cause that is not rare, with one of those that could be closed)."""
        rows = self.filter(cover__hazards__open__gt=0).order_by()
        likely = Count("machine", filter=Q(cover__hazards__likely__gt=0))
        closable = Count("machine", filter=Q(cover__hazards__closable__gt=0))
        return rows.values_list("machine__area", "cover__hazards__hazard").annotate(
            n=Count("machine"), likely=likely, closable=closable
        )

    def counted_by_area(self):
        """Return (area, machines with a table, with none, with an open hazard, moment of the oldest table)."""
        is_open = Q(cover__hazards__open__gt=0)
        return (
            self.order_by()
            .values_list("machine__area")
            .annotate(
                computed=Count("machine", distinct=True, filter=Q(cover__isnull=False)),
                failed=Count("machine", distinct=True, filter=Q(cover=None)),
                exposed=Count("machine", distinct=True, filter=is_open),
                oldest=Min("computed_at", filter=Q(cover__isnull=False)),
            )
        )
