"""Questions about sites and areas, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Count, Exists, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet.models.querysets.scoped import SiteScopedQuerySet


class SiteQuerySet(SiteScopedQuerySet):
    site_path = "pk"


class AreaQuerySet(SiteScopedQuerySet):
    def with_in_service(self):
        """Annotate `in_service`, the number of machines in service that are there: neither lent nor at a repair."""
        return self.annotate(in_service=Count("machines", filter=_in_service() & ~_away()))

    def below_minimum(self):
        """Return the areas with fewer machines in service than their minimum."""
        return self.with_in_service().filter(in_service__lt=F("minimum_machines"))

    def with_status_counts(self):
        """Annotate `in_service` and `away`, those in service that are there and that are not, and `withdrawn`."""
        return self.with_in_service().annotate(
            away=Count("machines", filter=_in_service() & _away()),
            withdrawn=Count("machines", filter=Q(machines__status="withdrawn")),
        )

    def with_status_counts_on(self, day):
        """Annotate the same numbers as they were at the end of a past day, by the areas of that day."""
        there = _machines_there(day)
        return self.annotate(
            in_service=_number(there.filter(status_then="in service", was_away=False)),
            away=_number(there.filter(status_then="in service", was_away=True)),
            withdrawn=_number(there.filter(status_then="withdrawn")),
        )


def _in_service():
    return Q(machines__status="in service")


def _away():
    return Exists(apps.get_model("fleet", "AwayPeriod").objects.now().filter(machine=OuterRef("machines")))


def _machines_there(day):
    """Return the area periods of `day` of an outer area, with the status of their machines then."""
    models = {name: apps.get_model("fleet", name).objects for name in ("AreaPeriod", "AwayPeriod", "StatusChange")}
    changes = models["StatusChange"].filter(machine=OuterRef("machine"), changed_on__lte=day)
    latest = changes.order_by("-changed_on", "-recorded_at", "-pk").values("status")[:1]
    away = models["AwayPeriod"].on(day).filter(machine=OuterRef("machine"))
    periods = models["AreaPeriod"].on(day).filter(area=OuterRef("pk"), machine__staged="")
    return periods.annotate(status_then=Subquery(latest), was_away=Exists(away)).order_by()


def _number(rows):
    return Coalesce(Subquery(rows.values("area").annotate(n=Count("pk")).values("n")), 0)
