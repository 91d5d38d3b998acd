"""The history of steps that were marked as not tested."""

from django.db import models
from django.db.models import Q

from fleet.models import Person
from inspections.models.inspections import InspectionStep
from inspections.models.querysets.readings import NotTestedMarkQuerySet


class NotTestedMark(models.Model):
    """One reason why a step was not tested, with who gave it and when. An undone mark stays in the table.

    `InspectionStep.not_tested_reason` holds the reason of the mark in force, for evaluation and for the chain.
    """

    step = models.ForeignKey(InspectionStep, models.CASCADE, related_name="not_tested_marks")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(
        Person,
        models.PROTECT,
        null=True,
        related_name="+",
        help_text="Empty for a mark from before its author was stored.",
    )
    at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    undone_at = models.DateTimeField(null=True)

    objects = NotTestedMarkQuerySet.as_manager()

    class Meta:
        verbose_name = "step not tested"
        verbose_name_plural = "steps not tested"
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="not_tested_has_reason"),
            models.CheckConstraint(
                condition=Q(by=None, at=None) | Q(by__isnull=False, at__isnull=False),
                name="not_tested_by_someone",
            ),
            models.CheckConstraint(
                condition=Q(undone_by=None, undone_at=None) | Q(undone_by__isnull=False, undone_at__isnull=False),
                name="not_tested_undone_by_someone",
            ),
            models.UniqueConstraint(fields=["step"], condition=Q(undone_at=None), name="not_tested_one_in_force"),
        ]

    def __str__(self):
        return f"{self.step}"
