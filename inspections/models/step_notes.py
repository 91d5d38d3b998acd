"""What a technician notes at a step beside its readings: a remark and photographs."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Person
from fleet.photographs import digest_of_bytes
from inspections.models.findings import Finding
from inspections.models.inspections import InspectionStep
from inspections.models.querysets.step_notes import PhotographManager

LONGEST_REMARK = 1000
LONGEST_CAPTION = 200
MOST_PHOTOGRAPHS = 12  # of one step


class StepRemark(models.Model):
    """The remark at a step, with who wrote it last; the changes of the inspection hold what it said before."""

    step = models.OneToOneField(InspectionStep, models.CASCADE, related_name="remark")
    text = models.TextField("remark", blank=True, max_length=LONGEST_REMARK)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        verbose_name = "remark on step"
        verbose_name_plural = "remarks on steps"
        ordering = ["pk"]

    def __str__(self):
        return f"{self.step}"


class Photograph(models.Model):
    """A photograph of a step or of a finding, as fleet.photographs made it: JPEG, upright, without metadata.

    `content` and `preview` are in the database so that they are stored, backed up and restored with the row that
    names them. A photograph that was removed keeps its row, without the picture.
    """

    step = models.ForeignKey(InspectionStep, models.CASCADE, null=True, related_name="photographs")
    finding = models.ForeignKey(Finding, models.CASCADE, null=True, related_name="photographs")
    content = models.BinaryField(null=True)
    preview = models.BinaryField(null=True)
    digest = models.CharField(max_length=64, db_index=False, help_text="SHA-256 of the content, in hexadecimal.")
    preview_digest = models.CharField(max_length=64, db_index=False)
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()
    octets = models.PositiveIntegerField(help_text="Bytes of the content.")
    caption = models.CharField(max_length=LONGEST_CAPTION, blank=True)
    by = models.ForeignKey(
        Person, models.PROTECT, null=True, related_name="+", help_text="Empty for a report without a login."
    )
    at = models.DateTimeField()
    removed_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    removed_at = models.DateTimeField(null=True)

    objects = PhotographManager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(step=None, finding__isnull=False) | Q(step__isnull=False, finding=None),
                name="photograph_of_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(removed_at=None, content__isnull=False, preview__isnull=False)
                | Q(removed_at__isnull=False, content=None, preview=None),
                name="photograph_until_removed",
            ),
            models.UniqueConstraint(
                fields=["step", "digest"], condition=Q(removed_at=None), name="photograph_once_per_step"
            ),
            models.UniqueConstraint(
                fields=["finding", "digest"], condition=Q(removed_at=None), name="photograph_once_per_finding"
            ),
        ]

    def __str__(self):
        return self.caption or f"photograph {self.pk}"

    def get_absolute_url(self):
        return reverse("inspections:photograph", args=[self.pk])

    @property
    def preview_url(self):
        return reverse("inspections:photograph_preview", args=[self.pk])

    @property
    def shown_with(self):
        """The record on whose page its changes are listed."""
        return self.step.inspection if self.step_id else self.finding

    digest_of = staticmethod(digest_of_bytes)

    @classmethod
    def of_clean(cls, clean, **fields):
        """Return an unsaved row of a CleanPhotograph."""
        return cls(
            content=clean.content, preview=clean.preview, digest=clean.digest, preview_digest=clean.preview_digest,
            width=clean.width, height=clean.height, octets=clean.octets, **fields,
        )  # fmt: skip
