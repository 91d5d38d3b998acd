"""Questions about sites and areas, as QuerySet methods that read as English."""

from django.db.models import Count, F, Q

from fleet.models.querysets.scoped import SiteScopedQuerySet


class SiteQuerySet(SiteScopedQuerySet):
    site_path = "pk"


class AreaQuerySet(SiteScopedQuerySet):
    def with_in_service(self):
        """Annotate `in_service`, the number of machines in service."""
        return self.annotate(in_service=Count("machines", filter=Q(machines__status="in service")))

    def below_minimum(self):
        """Return the areas with fewer machines in service than their minimum."""
        return self.with_in_service().filter(in_service__lt=F("minimum_machines"))

    def with_status_counts(self):
        """Annotate `in_service` and `withdrawn`, the number of machines in each status."""
        return self.with_in_service().annotate(withdrawn=Count("machines", filter=Q(machines__status="withdrawn")))
