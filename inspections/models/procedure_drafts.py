"""Procedures that are being written on pages, until a second person approves them."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Person
from inspections.models.procedures import Procedure, ProcedureVersion
from inspections.models.querysets.procedure_drafts import ProcedureDraftQuerySet


class ProcedureDraft(models.Model):
    """What becomes a version of a procedure once it is approved.

    procedure  the one of which it becomes a new version; None for a new procedure
    code       of that procedure, or of the new one
    based_on   the version that it was copied from
    content    as a TOML file says it: limits in their own units, without the published ones
    version    what it became
    """

    class State(models.TextChoices):
        WRITING = "writing", "Being written"
        APPROVED = "approved", "Approved"
        DISCARDED = "discarded", "Discarded"

    procedure = models.ForeignKey(Procedure, models.PROTECT, null=True, related_name="drafts")
    code = models.SlugField(max_length=40)
    based_on = models.ForeignKey(ProcedureVersion, models.PROTECT, null=True, related_name="+")
    content = models.JSONField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    changed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WRITING)
    version = models.OneToOneField(ProcedureVersion, models.PROTECT, null=True, related_name="draft")

    objects = ProcedureDraftQuerySet.as_manager()

    class Meta:
        verbose_name = "draft of a procedure"
        verbose_name_plural = "drafts of procedures"
        ordering = ["-changed_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="approved", version__isnull=False) | (~Q(state="approved") & Q(version=None)),
                name="procedure_draft_became_version",
            ),
        ]

    def __str__(self):
        return f"Draft {self.pk}: {self.title}"

    def get_absolute_url(self):
        return reverse("inspections:procedure_draft", args=[self.pk])

    @property
    def title(self):
        return self.content["title"]

    @property
    def is_being_written(self):
        return self.state == self.State.WRITING


class DraftWriter(models.Model):
    """Somebody who wrote in a draft, and so cannot approve it. Written once, under the lock of the draft."""

    draft = models.ForeignKey(ProcedureDraft, models.CASCADE, related_name="writers")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    since = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return str(self.person)
