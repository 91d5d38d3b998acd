"""What a sum can close: a computed choice for a fleet, with all that it was computed from."""

from django.db import models
from django.urls import reverse

from fleet.catalogue.currencies import currency_choices
from fleet.models import Person, Site
from fleet.models.querysets.scoped import SiteScopedQuerySet


class FleetChoice(models.Model):
    """A choice of keep, alter, replace or retire, as computed once. It is never changed.

    asked    what the person asked for
    inputs   machines with their options, limits and weights, as they were then
    result   plans, frontier and what is not known
    digest   SHA-256 of the inputs as canonical JSON
    """

    title = models.CharField(max_length=120)
    site = models.ForeignKey(
        Site, models.PROTECT, null=True, related_name="fleet_choices", help_text="Empty: all sites of the currency."
    )
    currency = models.CharField(max_length=3, choices=currency_choices)
    asked = models.JSONField()
    inputs = models.JSONField()
    result = models.JSONField()
    digest = models.CharField(max_length=64)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = SiteScopedQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        permissions = [("choose_fleet", "Can compute what a sum closes")]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return reverse("inspections:fleet_choice", args=[self.pk])
