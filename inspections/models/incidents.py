"""A serious incident: what was known of the machine in that hour, as one file that never changes."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.acting.querysets import JournaledQuerySet
from fleet.canonical import digest_of
from fleet.models import Machine, Person
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.errors import RecordFrozen


class SeriousIncidentQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        return self.filter(closed_at=None)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "opened_by", "closed_by")


class SeriousIncident(models.Model):
    """`content` is the file as canonical JSON, `digest` its SHA-256. Both are written once.

    `jurisdiction` names whose rules start a clock; empty where nobody chose.
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="incidents")
    jurisdiction = models.SlugField(max_length=20, blank=True, db_index=False)
    content = models.TextField(editable=False)
    digest = models.CharField(max_length=64, editable=False)
    opened_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    closed_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closing_reason = models.TextField(blank=True)

    objects = SeriousIncidentQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        verbose_name = "serious incident"
        constraints = [
            models.UniqueConstraint(fields=["machine"], condition=Q(closed_at=None), name="incident_once_open"),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True)
                | (~Q(closing_reason="") & Q(closed_by__isnull=False) & ~Q(closed_by=F("opened_by"))),
                name="incident_closed_by_a_second_person",
            ),
        ]

    def __str__(self):
        return f"incident {self.pk} on machine {self.machine}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"The file of {self} does not change. Add a note to the incident.")
        super().save(*args, **kwargs)

    def get_absolute_url(self):
        return reverse("inspections:incident", args=[self.pk])

    @property
    def is_open(self):
        return self.closed_at is None

    @property
    def is_as_frozen(self):
        """Whether the file still has the digest that it was stored with."""
        return digest_of(self.content) == self.digest


class IncidentNote(models.Model):
    """What somebody who was there adds: settings, alarms, who was present. Only ever added."""

    incident = models.ForeignKey(SeriousIncident, models.PROTECT, related_name="notes")
    text = models.TextField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name = "note"

    def __str__(self):
        return f"note of {self.at:%Y-%m-%d %H:%M}"
