"""How exposed the machines were at the end of each quarter, and will be under each decision: computed and stored."""

from django.db import models
from django.urls import reverse

from fleet.models import Person, Site
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.models.fleet_choices import FleetChoice


class ExposureHistory(models.Model):
    """The exposure by hazard, computed once and never changed.

    site    whose machines; empty: of all sites
    choice  the stored choice for the fleet whose decisions are looked ahead at; empty: only what comes by itself
    result  days, exposure by hazard in the past and ahead under each decision, and what is not known
    """

    site = models.ForeignKey(Site, models.CASCADE, null=True, blank=True, related_name="exposure_histories")
    choice = models.ForeignKey(FleetChoice, models.PROTECT, null=True, blank=True, related_name="exposure_histories")
    result = models.JSONField()
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    objects = SiteScopedQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "exposure histories"

    def __str__(self):
        return f"Exposure of {self.site or 'all sites'}, {self.at:%Y-%m-%d}"

    def get_absolute_url(self):
        return reverse("inspections:exposure")
