"""Limits that a department set for a machine model or a site, in place of a procedure's own."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower, Trim

from fleet.models import MachineModel, Person, Site
from inspections.models.limit_sources import NO_SOURCE
from inspections.models.querysets.limits import LimitOverrideQuerySet

# The constraint below compares `source__trim__lower`.
models.CharField.register_lookup(Lower)
models.CharField.register_lookup(Trim)


class LimitOverride(models.Model):
    """A limit for one result of one test, on every machine of a model or at a site, with its reason and source.

    Either `rule` names one of the published rules that the test declares, or `lower` and `upper` give numbers in
    `unit`. The manufacturer's figure (machine model) comes before the site's. One that was set before a source was
    demanded is kept `without_source`; it judges nothing.
    """

    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="limits")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="limits")
    test_code = models.SlugField(max_length=40)
    result_key = models.SlugField(max_length=60, db_column="outcome_key")
    rule = models.SlugField(max_length=60, blank=True)
    lower = models.FloatField(null=True, blank=True)
    upper = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    reason = models.CharField(max_length=300)
    source = models.CharField(max_length=300)
    edition = models.CharField(max_length=120, blank=True)
    without_source = models.BooleanField(default=False, editable=False)
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True)
    ended_reason = models.CharField(max_length=300, blank=True, editable=False)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    objects = LimitOverrideQuerySet.as_manager()

    class Meta:
        ordering = ["test_code", "result_key", "-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(machine_model__isnull=False, site__isnull=True)
                | Q(machine_model__isnull=True, site__isnull=False),
                name="limit_for_model_or_site",
            ),
            models.CheckConstraint(
                condition=~Q(rule="") | Q(lower__isnull=False) | Q(upper__isnull=False), name="limit_says_something"
            ),
            models.CheckConstraint(condition=~Q(reason="") & ~Q(source=""), name="limit_has_reason_and_source"),
            models.CheckConstraint(
                condition=Q(without_source=True)
                | (~Q(source__trim__lower__in=NO_SOURCE) & ~Q(reason__trim__lower__in=NO_SOURCE)),
                name="limit_names_its_source",
            ),
        ]

    def __str__(self):
        return f"{self.test_code} {self.result_key} for {self.machine_model or self.site}"
