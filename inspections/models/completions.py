"""What a signature proved, stored when it was given, for the figures of the programme."""

from django.db import models
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet
from inspections.models.inspections import Inspection


class Completion(models.Model):
    """The date of a signature at the machine's site, and whether every essential step that applies proved something.

    Both follow from the signed rows (`InspectionQuerySet.incomplete_by_steps`), which never change. They are stored
    because lists and figures ask for years of them, and so that a later change of the site's time zone moves no
    signature to another day.
    """

    inspection = models.OneToOneField(Inspection, models.CASCADE, primary_key=True, related_name="completion")
    is_complete = models.BooleanField()
    signed_on = models.DateField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["inspection"]
        indexes = [
            # The few that are incomplete.
            models.Index(fields=["inspection"], condition=Q(is_complete=False), name="completion_incomplete")
        ]

    def __str__(self):
        return f"{self.inspection}, {'complete' if self.is_complete else 'incomplete'}"

    @classmethod
    def of(cls, inspection):
        """What the signature of `inspection` proved; not saved."""
        signed_on = inspection.machine.site.date_of(inspection.signed_at)
        return cls(inspection=inspection, is_complete=not inspection.is_incomplete, signed_on=signed_on)
