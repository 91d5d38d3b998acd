"""Signed records and their amendments."""

import json

from django.db import models

from fleet.models import Person
from inspections.errors import RecordFrozen, RecordUnreadable
from inspections.models.inspections import Inspection
from inspections.models.packed_text import PackedTextField


class SignedRecord(models.Model):
    """What a signature froze: readings, results, limits, instruments and procedure version, as canonical JSON text."""

    inspection = models.OneToOneField(Inspection, models.PROTECT, related_name="record")
    content = PackedTextField()
    digest = models.CharField(max_length=64, help_text="SHA-256 of the content.")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"Record of {self.inspection}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"{self} is signed and does not change. Add an amendment with a reason.")
        super().save(*args, **kwargs)

    def read(self) -> dict:
        """Return the content as data, also where it was altered. Raise RecordUnreadable if it is no JSON any more."""
        try:
            return json.loads(self.content)
        except ValueError:
            raise RecordUnreadable(
                f"The record of inspection {self.inspection_id} was altered in the database so that nothing can be "
                f"read from it. Its signature froze the digest {self.digest}. Restore and verify an earlier backup."
            ) from None


class Amendment(models.Model):
    """A correction to a signed record, shown beside the original, which stays as it is."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="amendments")
    step = models.ForeignKey("inspections.InspectionStep", models.PROTECT, null=True, blank=True, related_name="+")
    correction = models.TextField(help_text="What should be read instead of what.")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self):
        return f"Amendment to {self.inspection}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"{self} cannot be changed. Add another amendment.")
        super().save(*args, **kwargs)
