"""Questions about sites and areas, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Case, Count, Exists, F, Func, IntegerField, OuterRef, Subquery, Value, When

from fleet.models.querysets.prepared_queries import prepared
from fleet.models.querysets.scoped import SiteScopedQuerySet

COUNT = Func(template="COUNT(*)", output_field=IntegerField())


class SiteQuerySet(SiteScopedQuerySet):
    site_path = "pk"


class AreaQuerySet(SiteScopedQuerySet):
    def with_in_service(self):
        """Annotate `in_service`, the number of machines in service that are there: neither lent nor at a repair.

        The few that are away are counted at once, in a query of its own: a database would look for each machine of each
        area whether it is away.
        """
        return self._with_in_service(_away_by_area())

    def with_in_service_or_away(self):
        """Annotate `in_service_or_away`: of `with_in_service` without those that `numbers_away` counts."""
        return self.annotate(in_service_or_away=_number(_now("in service")))

    def _with_in_service(self, away):
        return self.annotate(in_service=_number(_now("in service")) - away)

    def below_minimum(self):
        """Return the areas with fewer machines in service than their minimum."""
        return self.with_in_service().filter(in_service__lt=F("minimum_machines"))

    def with_status_counts(self):
        """Annotate `in_service` and `away`, those in service that are there and that are not, and `withdrawn`."""
        away = _away_by_area()
        return self._with_in_service(away).annotate(away=away, withdrawn=_number(_now("withdrawn")))

    def with_status_counts_on(self, day):
        """Annotate the same numbers as they were at the end of a past day, by the areas of that day."""
        there = _machines_there(day)
        return self.annotate(
            in_service=_number(there.filter(status_then="in service", was_away=False)),
            away=_number(there.filter(status_then="in service", was_away=True)),
            withdrawn=_number(there.filter(status_then="withdrawn")),
        )


def _now(status):
    """Return the machines of an outer area with this status."""
    return apps.get_model("fleet", "Machine").objects.filter(area=OuterRef("pk"), status=status).order_by()


@prepared
def numbers_away():
    """Return (area, number) of the machines in service that are away; an area is None for those of another status.

    The area is looked up for each machine that is away: joined, a database would go through all machines in service.
    """
    machine = apps.get_model("fleet", "Machine").objects.filter(pk=OuterRef("machine"), status="in service").order_by()
    away = (
        apps.get_model("fleet", "AwayPeriod").objects.now().annotate(area=Subquery(machine.values("area"))).order_by()
    )
    return away.values_list("area").annotate(number=Count("*"))


def _away_by_area():
    """Return the expression for the number of machines in service of an area that are away; one query."""
    cases = [When(pk=area, then=Value(number)) for area, number in numbers_away() if area]
    return Case(*cases, default=Value(0), output_field=IntegerField())


def _machines_there(day):
    """Return the area periods of `day` of an outer area, with the status of their machines then."""
    models = {name: apps.get_model("fleet", name).objects for name in ("AreaPeriod", "AwayPeriod", "StatusChange")}
    changes = models["StatusChange"].filter(machine=OuterRef("machine"), changed_on__lte=day)
    latest = changes.order_by("-changed_on", "-recorded_at", "-pk").values("status")[:1]
    away = models["AwayPeriod"].on(day).filter(machine=OuterRef("machine"))
    periods = models["AreaPeriod"].on(day).filter(area=OuterRef("pk"), machine__staged="")
    return periods.annotate(status_then=Subquery(latest), was_away=Exists(away)).order_by()


def _number(rows):
    """Return how many rows there are; not grouped, so that the database counts within the index of the area."""
    return Subquery(rows.annotate(number=COUNT).values("number"))
