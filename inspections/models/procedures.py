"""Procedures and their frozen versions."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone

from fleet.models import Person
from inspections.models.querysets.procedures import ProcedureQuerySet, ProcedureVersionQuerySet


class Procedure(models.Model):
    """A list of tests done on a machine, at an interval or on occasion. Its content is in its versions.

    title, interval_months, window_days  those of the version in force, as `begin_versions` last stored them
    """

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

    def current_version(self, on=None):
        """The version in force on a date, by default today: the newest whose date has come. None before the first."""
        return self.versions.begun(on or timezone.localdate()).order_by("-number").first()


class ProcedureVersion(models.Model):
    """The content of a procedure as it was loaded or approved: steps, limits and sources. It never changes.

    from_date    the date on which it begins; None for one that was loaded from a file, which begins at once
    proposed_by, approved_by  the two people behind a version that was written on pages; None for one from a file
    """

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    content = models.JSONField()
    digest = models.CharField(max_length=64)
    loaded_at = models.DateTimeField()
    from_date = models.DateField(null=True)
    proposed_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    approved_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    objects = ProcedureVersionQuerySet.as_manager()

    class Meta:
        ordering = ["procedure", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["procedure", "number"], name="procedure_version_once"),
            models.CheckConstraint(
                condition=Q(approved_by=None, proposed_by=None)
                | (Q(approved_by__isnull=False, proposed_by__isnull=False) & ~Q(approved_by=F("proposed_by"))),
                name="procedure_version_by_two",
            ),
        ]

    def __str__(self):
        return f"{self.procedure.title}, version {self.number}"

    def save(self, *args, **kwargs):
        if self.pk and not self._state.adding:
            raise TypeError(f"{self} cannot be changed. Load the changed file as a new version.")
        super().save(*args, **kwargs)

    def get_absolute_url(self):
        return f"{reverse('inspections:procedure', args=[self.procedure_id])}?version={self.number}"

    @property
    def is_own(self):
        """Whether the department wrote it on pages."""
        return self.approved_by_id is not None

    def has_begun(self, on):
        return self.from_date is None or self.from_date <= on
