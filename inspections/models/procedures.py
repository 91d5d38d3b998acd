"""Procedures and their frozen versions."""

from django.db import models
from django.urls import reverse

from inspections.models.querysets.procedures import ProcedureQuerySet, ProcedureVersionQuerySet


class Procedure(models.Model):
    """A list of tests done on a machine, at an interval or on occasion. Its content is in its versions."""

    code = models.SlugField(max_length=40, unique=True)
    title = models.CharField(max_length=120)
    interval_months = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Months between two inspections; empty if done only when needed."
    )
    window_days = models.PositiveSmallIntegerField(default=14, help_text="Days either side of the due date.")

    objects = ProcedureQuerySet.as_manager()

    class Meta:
        ordering = ["code"]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return reverse("inspections:procedure", args=[self.pk])

    def current_version(self):
        """The newest version, or None before the first is loaded."""
        return self.versions.order_by("-number").first()


class ProcedureVersion(models.Model):
    """The content of a procedure as it was loaded: steps, limits and sources. It never changes."""

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    content = models.JSONField()
    digest = models.CharField(max_length=64)
    loaded_at = models.DateTimeField()

    objects = ProcedureVersionQuerySet.as_manager()

    class Meta:
        ordering = ["procedure", "-number"]
        constraints = [models.UniqueConstraint(fields=["procedure", "number"], name="procedure_version_once")]

    def __str__(self):
        return f"{self.procedure.title}, version {self.number}"

    def save(self, *args, **kwargs):
        if self.pk and not self._state.adding:
            raise TypeError(f"{self} cannot be changed. Load the changed file as a new version.")
        super().save(*args, **kwargs)
