"""The weights by which a site ranks its machines for the retirement review."""

from django.db import models

from fleet.models import Person, Site
from fleet.models.querysets.scoped import SiteScopedQuerySet


class ReviewWeights(models.Model):
    """One version of a site's weights, by code as decimal text, with its author and reason. The latest one counts."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="review_weights")
    hazards = models.JSONField()
    burden = models.JSONField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = SiteScopedQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "review weights"
        permissions = [("weigh_review", "Can set the weights of the retirement review")]

    def __str__(self):
        return f"Weights of {self.site}"
